// What was read, drawn over the cloth: stripes with their counts, and edges that can be dragged.
import { draw } from "./say.js";
import { choose, editSide, store, side, yarn } from "./store.js";

const TAG = 26; // pixels high
const REACH = 48; // pixels within which a finger takes a grip

// Grips of edges that lie close together stand in several rows, so that each can be taken alone.
// Where there is no room for more rows, what one reaches ends half-way to the next.
function staggered(edges, most) {
  const last = [];
  const rows = edges.map((at) => {
    let row = last.findIndex((one) => at - one >= REACH);
    if (row < 0) row = last.length < most ? last.length : last.indexOf(Math.min(...last));
    last[row] = at;
    return row;
  });
  return edges.map((at, k) => {
    const apart = edges.filter((_, other) => other !== k && rows[other] === rows[k]).map((one) => Math.abs(one - at));
    return { at, row: rows[k], reach: Math.min(REACH, ...apart) };
  });
}

export class Overlay {
  constructor(view) {
    this.view = view;
    this.drag = null;
    view.watchers.push(() => this.redraw());
  }

  get level() { // whether the stripes lie across the picture
    const across = store.state.warpRuns === "across";
    return (store.side === "warp") === across;
  }

  redraw() {
    const { view } = this;
    view.over.replaceChildren();
    if (!store.state || !store.state.yarns || !view.picture) return;
    const shown = side().shown;
    const level = this.level;
    const [w, h] = [view.width, view.height];
    const [[left, top], [right, bottom]] = [view.toView(0, 0), view.toView(1, 1)];
    this.frame = level // the stripes reach from one side of the cloth to the other, as far as it shows
      ? [Math.max(left, 0), Math.min(right, w)] : [Math.max(top, 0), Math.min(bottom, h)];
    const at = (share) => (level ? view.toView(0, share)[1] : view.toView(share, 0)[0]);
    const long = level ? h : w;
    const [tags, chosen] = [[], []];
    shown.forEach((one, place) => {
      const [from, to] = [at(this.edge(place, one[2])), at(this.edge(place + 1, one[3], true))];
      if (to < 0 || from > long) return;
      this.band(place, one, from, to, level);
      tags.push(this.tag(one, from, to, level, w, h));
    });
    shown.forEach((one, place) => {
      if (place === shown.length - 1) return;
      const edge = at(this.edge(place + 1, one[3], true));
      if (edge <= 0 || edge >= long) return;
      this.seam(edge, level);
      if ([one[0], shown[place + 1][0]].includes(store.line)) chosen.push([place, edge]);
    });
    const most = Math.max(1, Math.floor((this.frame[1] - this.frame[0] - 2 * TAG) / (REACH + 4)));
    const grips = staggered(chosen.map(([, edge]) => edge), most).map((one, k) => this.grip(chosen[k][0], one, level));
    view.over.append(...grips, ...tags.filter(Boolean)); // no line runs through a grip or a count
  }

  edge(number, share) { // where an edge lies while it is dragged
    return this.drag && this.drag.edge === number ? this.drag.to : share;
  }

  band(place, one, from, to, level) {
    const on = one[0] === store.line;
    const [near, far] = this.frame;
    const deep = Math.max(far - near, 0);
    const box = level ? { x: near, y: from, width: deep, height: to - from } : { x: from, y: near, width: to - from, height: deep };
    const rect = draw("rect", { ...box, class: on ? "band on" : "band", "data-place": place });
    this.view.over.append(rect);
    if (on) this.view.over.append(draw("rect", { ...box, class: "band-ink on" }));
  }

  // The count of a stripe, wholly in sight; null where it is too narrow for one.
  tag(one, from, to, level, w, h) {
    const line = side().lines[one[0]];
    const text = `${line.yarn}${one[1]}${one[4] ? "+" : ""}`;
    const wide = text.length * 8 + 10;
    const narrow = to - from < (level ? 18 : wide); // aside, so that it hides no neighbour's count
    if (narrow && one[0] !== store.line) return null;
    const middle = (Math.max(from, 0) + Math.min(to, level ? h : w)) / 2;
    const kind = line.doubt ? " doubt" : line.certain ? " sure" : "";
    const near = this.frame[0];
    const inside = Math.min(Math.max(middle, wide / 2 + 1), w - wide / 2 - 1);
    const [x, y] = level
      ? [near + wide / 2 + 6 + (narrow ? 2 * TAG : 0), middle] : [inside, near + TAG / 2 + 6 + (narrow ? TAG : 0)];
    return draw("g", { class: `tag${kind}` },
      draw("rect", { x: x - wide / 2, y: y - TAG / 2 + 2, width: wide, height: TAG - 4, rx: 4 }),
      draw("text", { x, y }, text));
  }

  // The line between two stripes.
  seam(at, level) {
    const [near, far] = this.frame;
    const [from, to] = level ? [[near, at], [far, at]] : [[at, near], [at, far]];
    const line = { x1: from[0], y1: from[1], x2: to[0], y2: to[1] };
    this.view.over.append(draw("line", { ...line, class: "seam" }), draw("line", { ...line, class: "seam-ink" }));
  }

  grip(place, { at, row, reach }, level) {
    const shown = side().shown;
    const [a, b] = [side().lines[shown[place][0]], side().lines[shown[place + 1][0]]];
    const label = `Edge between ${yarn(a.yarn).name} ${a.threads} and ${yarn(b.yarn).name} ${b.threads}`;
    const end = Math.max(this.frame[1] - 36, 40) - row * (REACH + 4);
    const [x, y] = level ? [end, at] : [at, end];
    const body = level ? { x: x - 22, y: y - 9, width: 44, height: 18, rx: 6 } : { x: x - 9, y: y - 22, width: 18, height: 44, rx: 6 };
    const around = level
      ? { x: x - REACH / 2, y: y - reach / 2, width: REACH, height: reach } : { x: x - reach / 2, y: y - REACH / 2, width: reach, height: REACH };
    const line = level ? { x1: x - 22, y1: y, x2: x + 22, y2: y } : { x1: x, y1: y - 22, x2: x, y2: y + 22 }; // the very edge
    const group = draw("g", {
      class: level ? "grip level" : "grip", "data-drag": "edge", "data-edge": place, tabindex: 0, role: "slider", "aria-label": label,
      "aria-valuemin": 0, "aria-valuemax": 1000, "aria-valuenow": Math.round(shown[place][3] * 1000),
      "aria-orientation": level ? "vertical" : "horizontal",
    }, draw("rect", { class: "reach", ...around }), draw("rect", body), draw("line", { ...line, class: "seam-ink" }));
    group.addEventListener("pointerdown", (event) => this.begin(event, place));
    group.addEventListener("keydown", (event) => this.nudge(event, place));
    return group;
  }

  begin(event, place) {
    event.preventDefault();
    event.stopPropagation();
    const { element } = this.view;
    const shown = side().shown;
    const [least, most] = [shown[place][2], shown[place + 1][3]];
    this.drag = { edge: place + 1, to: shown[place][3] };
    element.setPointerCapture(event.pointerId);
    const move = (moving) => {
      const share = this.view.toShare(moving)[this.level ? 1 : 0];
      this.drag.to = Math.min(Math.max(share, least + 1e-4), most - 1e-4);
      this.redraw();
    };
    const up = (ending) => {
      element.removeEventListener("pointermove", move);
      element.removeEventListener("pointerup", up);
      element.removeEventListener("pointercancel", up);
      const { to } = this.drag;
      const moved = ending.type === "pointerup" && Math.abs(to - shown[place][3]) > 1e-6;
      const settle = () => { this.drag = null; this.redraw(); };
      if (moved) editSide({ name: "move", place, to }).then(settle); else settle();
    };
    element.addEventListener("pointermove", move);
    element.addEventListener("pointerup", up);
    element.addEventListener("pointercancel", up);
  }

  // An arrow key moves the edge by about one thread.
  nudge(event, place) {
    const step = { ArrowLeft: -1, ArrowUp: -1, ArrowRight: 1, ArrowDown: 1 }[event.key];
    if (!step) return;
    event.preventDefault();
    event.stopPropagation();
    const shown = side().shown;
    const [a, b] = [shown[place], shown[place + 1]];
    const thread = (b[3] - a[2]) / (a[1] + b[1]);
    editSide({ name: "move", place, to: Math.min(Math.max(a[3] + step * thread, 0), 1) }).then(() => {
      const label = this.view.over.querySelector(`[data-edge="${place}"]`);
      if (label) label.focus();
    });
  }

  pressed(event) {
    const shown = side().shown;
    const share = this.view.toShare(event)[this.level ? 1 : 0];
    const place = shown.findIndex((one) => share >= one[2] && share < one[3]);
    if (place >= 0) choose(shown[place][0]);
  }
}
