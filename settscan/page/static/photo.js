// The photo: corners of the cloth and known distances, dragged; the straightened cloth follows.
import { byId, draw, make, say } from "./say.js";
import { base, store } from "./store.js";
import { ask, send, upload } from "./server.js";
import { straighten, fromSquare, inside } from "./homography.js";

const NAMES = ["top left", "top right", "bottom right", "bottom left"];
const DIRECTIONS = ["Across", "Along"];
let view;
let size; // of the photo, in pixels
let corners = []; // photo pixels
let touched = false;
let small; // a small copy, to straighten while dragging
const measures = [null, null]; // across and along: {x0, y0, x1, y1, length}

export async function openPhoto(given) {
  view = given;
  const found = await ask(`${base}/photo`);
  size = found.photo;
  const select = byId("photo-close");
  select.replaceChildren(make("option", { value: "" }, found.closeUp ? `as before: ${found.closeUp}` : "none"), ...found.photos.map((name) => make("option", {}, name)));
  byId("photo-runs").value = store.state.warpRuns || "down";
  byId("evidence-link").href = `${base}/evidence.png`;
  byId("read-again").disabled = !store.state.photo;
  if (!size) return found;
  view.open(size, `${base}/tile?which=photo`);
  const seen = found.seen || {};
  if (!touched) {
    const { width: w, height: h } = size;
    const inset = [[0.1 * w, 0.1 * h], [0.9 * w, 0.1 * h], [0.9 * w, 0.9 * h], [0.1 * w, 0.9 * h]];
    corners = (seen.corners && inside(seen.corners, size)) || inset;
  }
  if (seen.ruler && !measures[0] && !measures[1]) {
    const { x0, y0, x1, y1, length_mm: mm } = seen.ruler;
    const along = Math.abs(y1 - y0) > Math.abs(x1 - x0) ? 1 : 0;
    measures[along] = { x0, y0, x1, y1, length: asLength(mm), read: true };
  }
  showMeasures();
  copySmall();
  view.redraw();
  return found;
}

function clamp(value, most) { return Math.min(Math.max(value, 0), most - 1); }

// What is told as about so much has three digits.
function roughly(mm) {
  const unit = store.state.units === "metric" ? 10 : 25.4;
  return Number((mm / unit).toPrecision(3)) * unit;
}

function asLength(mm, metric = store.state.units === "metric") {
  return metric ? `${Math.round(mm * 10) / 100} cm` : `${Math.round(mm / 25.4 * 1000) / 1000} in`;
}

// The smallest level of the photo is one tile: enough to straighten at once.
function copySmall() {
  const image = new Image();
  image.onload = () => {
    const canvas = make("canvas");
    canvas.width = image.naturalWidth;
    canvas.height = image.naturalHeight;
    const pen = canvas.getContext("2d");
    pen.drawImage(image, 0, 0);
    small = pen.getImageData(0, 0, canvas.width, canvas.height);
    showStraight();
  };
  const level = Math.max(size.levels - 1, 0);
  image.src = `${base}/tile?which=photo&level=${level}&column=0&row=0&v=${size.version}`;
}

function showStraight() {
  if (!small) return;
  const factor = small.width / size.width;
  const canvas = byId("straight");
  const side = (a, b) => Math.hypot(corners[a][0] - corners[b][0], corners[a][1] - corners[b][1]);
  const wide = (side(0, 1) + side(2, 3)) / 2;
  const high = (side(1, 2) + side(3, 0)) / 2;
  canvas.height = Math.round(Math.min(Math.max(canvas.width * high / wide, 60), 520));
  const done = straighten(small, corners.map(([x, y]) => [x * factor, y * factor]), canvas);
  const told = [];
  if (!done || !fromSquare(corners)) told.push("These four points make no rectangle.");
  for (const [way, pixels] of [[0, wide], [1, high]]) {
    const one = measures[way];
    const mm = one && millimetres(one.length);
    if (!mm) continue;
    const perMm = Math.hypot(one.x1 - one.x0, one.y1 - one.y0) / mm;
    told.push(`about ${asLength(roughly(pixels / perMm))} ${way ? "high" : "wide"}`);
  }
  byId("straight-told").textContent = told.length ? `Between the corners: ${told.join(", ")}.` : "";
}

function millimetres(text) {
  const match = /^\s*([0-9.]+)\s*(mm|cm|m|in|inch|inches|")\s*$/.exec(text);
  if (!match) return 0;
  return Number(match[1]) * { mm: 1, cm: 10, m: 1000 }[match[2]] || Number(match[1]) * 25.4;
}

function showMeasures() {
  byId("measures").replaceChildren(...measures.map((one, way) => {
    if (!one) return "";
    const field = make("input", { value: one.length, autocomplete: "off" });
    field.addEventListener("input", () => { one.length = field.value; one.read = false; showStraight(); });
    const gone = make("button", { type: "button", on: { click: () => { measures[way] = null; showMeasures(); view.redraw(); showStraight(); } } }, "Leave out");
    // In the other units too: a project in inches may have a ruler in centimetres.
    const other = one.read && asLength(millimetres(one.length), store.state.units !== "metric");
    const note = one.read ? make("span", { class: "soft" }, `${other}, as the ruler was read; used only if you change it`) : "";
    return make("div", { class: "row" }, make("label", {}, `${DIRECTIONS[way]} the photo`, field), gone, note);
  }));
  byId("add-across").disabled = Boolean(measures[0]);
  byId("add-along").disabled = Boolean(measures[1]);
}

function add(way) {
  const { width: w, height: h } = size;
  measures[way] = way
    ? { x0: w / 2, y0: h * 0.25, x1: w / 2, y1: h * 0.75, length: asLength(100) }
    : { x0: w * 0.25, y0: h / 2, x1: w * 0.75, y1: h / 2, length: asLength(100) };
  showMeasures();
  view.redraw();
}

function place([x, y]) { return view.toView(x / size.width, y / size.height); }

export function paintPhoto() {
  view.over.replaceChildren();
  if (!size || corners.length !== 4) return;
  const quad = corners.map(place).map((one) => one.join(",")).join(" ");
  view.over.append(draw("polygon", { points: quad, class: "quad" }), draw("polygon", { points: quad, class: "quad-ink" }));
  measures.forEach((one, way) => {
    if (!one) return;
    const [[x1, y1], [x2, y2]] = [place([one.x0, one.y0]), place([one.x1, one.y1])];
    view.over.append(draw("line", { x1, y1, x2, y2, class: "measure-under" }), draw("line", { x1, y1, x2, y2, class: "measure" }));
    for (const end of [0, 1]) {
      grip([one[`x${end}`], one[`y${end}`]], `${end ? "Second" : "First"} end of the distance ${way ? "along" : "across"}`, ([x, y]) => {
        Object.assign(one, { [`x${end}`]: x, [`y${end}`]: y });
        if (one.read) { one.read = false; showMeasures(); }
      }, `m${way}${end}`);
    }
  });
  corners.forEach((corner, k) => grip(corner, `Corner ${NAMES[k]}`, (to) => {
    corners[k] = to;
    touched = true;
    byId("use-corners").checked = true;
  }, `c${k}`));
}

function grip(at, label, move, key) {
  const [x, y] = place(at);
  const group = draw("g", { class: "grip", "data-drag": "point", "data-key": key, tabindex: 0, role: "button", "aria-label": `${label}. Arrow keys move it.` },
    draw("circle", { class: "reach", cx: x, cy: y, r: 26 }), draw("circle", { cx: x, cy: y, r: 10 }));
  const go = ([px, py]) => { move([clamp(px, size.width), clamp(py, size.height)]); view.redraw(); showStraight(); };
  group.addEventListener("pointerdown", (event) => {
    event.preventDefault();
    event.stopPropagation();
    const { element } = view;
    element.setPointerCapture(event.pointerId);
    const moving = (now) => { const [sx, sy] = view.toShare(now); go([sx * size.width, sy * size.height]); };
    const up = () => { element.removeEventListener("pointermove", moving); element.removeEventListener("pointerup", up); element.removeEventListener("pointercancel", up); };
    element.addEventListener("pointermove", moving);
    element.addEventListener("pointerup", up);
    element.addEventListener("pointercancel", up);
  });
  group.addEventListener("keydown", (event) => {
    const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    if (!step) return;
    event.preventDefault();
    event.stopPropagation();
    const by = (event.shiftKey ? 10 : 1) / view.scale;
    go([at[0] + step[0] * by, at[1] + step[1] * by]);
    requestAnimationFrame(() => requestAnimationFrame(() => { const again = view.over.querySelector(`[data-key="${key}"]`); if (again) again.focus(); }));
  });
  view.over.append(group);
}

export function showJob(job) {
  const bar = byId("photo-bar");
  const mine = job && store.state && job.project === decodeURIComponent(base.slice(3));
  bar.hidden = !(mine && job.running);
  byId("stop-reading").hidden = !(mine && job.running);
  byId("read-again").disabled = Boolean(job && job.running) || !store.state.photo;
  const told = mine ? job.failed || job.told : "";
  byId("photo-doing").textContent = told;
  byId("second-told").textContent = store.secondLook ? told : "";
  if (!mine) return;
  bar.value = job.share;
  byId("photo-advice").replaceChildren(...(job.running ? [] : job.advice.map((one) => make("li", {}, one))));
}

async function readAgain() {
  const close = byId("photo-close").value;
  const body = {
    corners: byId("use-corners").checked ? corners : null,
    measures: measures.filter((one) => one && !one.read).map(({ x0, y0, x1, y1, length }) => ({ x0, y0, x1, y1, length })),
    warpRuns: byId("photo-runs").value,
    weave: byId("photo-weave").value,
    epi: byId("photo-epi").value,
    ppi: byId("photo-ppi").value,
  };
  if (close) body.photos = [store.state.photo, close];
  store.secondLook = false;
  try {
    showJob((await send(`${base}/read`, body)).job);
  } catch (error) { say(error.message, true); byId("photo-doing").textContent = error.message; }
}

export function startPhoto() {
  byId("add-across").addEventListener("click", () => add(0));
  byId("add-along").addEventListener("click", () => add(1));
  byId("read-again").addEventListener("click", readAgain);
  byId("stop-reading").addEventListener("click", () => send("/stop", {}));
  byId("more-files").addEventListener("change", async (event) => {
    const [file] = event.target.files;
    if (!file) return;
    try {
      const name = await upload(file);
      const select = byId("photo-close");
      select.append(make("option", {}, name));
      select.value = name;
      say(`${name} is here; it is read as a close-up.`);
    } catch (error) { say(error.message, true); }
    event.target.value = "";
  });
}
