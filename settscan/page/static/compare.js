// The photo and the cloth drawn from the counts, at one scale: side by side, or one after the other.
import { byId } from "./say.js";
import { base, store } from "./store.js";

const BLINK = 900; // milliseconds; slower than anything that harms
let view;
let drawn = null;
let drawnOf = -1;
let showing = true; // the drawing, while blinking
let pitch = {};
let timer;

export function openCompare(given, found) {
  view = given;
  pitch = { x: found.seen.columns && found.seen.columns.pitch, y: found.seen.rows && found.seen.rows.pitch };
  view.paint = paint;
  if (found.cloth) view.open(found.cloth, `${base}/tile?which=cloth`);
  byId("compare-told").textContent = "";
  renewDrawing();
}

export function renewDrawing() {
  if (!view || byId("compare").hidden || !store.state.yarns || drawnOf === store.state.revision) return;
  drawnOf = store.state.revision;
  const image = new Image();
  image.onload = () => { drawn = image; view.redraw(); };
  image.onerror = () => { byId("compare-told").textContent = "The cloth cannot be drawn; the plan says why."; };
  image.src = `${base}/drawn.png?revision=${drawnOf}`;
}

// From where to where the drawing lies, as shares of the picture's side.
function span(side, one) {
  const { shown } = side;
  if (!shown.length) return [0, 1];
  const threads = shown.reduce((sum, part) => sum + part[1], 0);
  const first = shown[0][2];
  const even = document.querySelector('input[name="fit"]:checked').value === "even";
  return [first, even && one ? first + threads * one : shown.at(-1)[3]];
}

function paint(pen) {
  if (!drawn || !view.picture) return;
  const show = document.querySelector('input[name="show"]:checked').value;
  if (show === "photo" || (show === "blink" && !showing)) return;
  const across = store.state.warpRuns === "across";
  const [columns, rows] = across ? [store.state.weft, store.state.warp] : [store.state.warp, store.state.weft];
  const [x0, x1] = span(columns, pitch.x);
  const [y0, y1] = span(rows, pitch.y);
  const [left, top] = view.toView(x0, y0);
  const [right, bottom] = view.toView(x1, y1);
  const at = show === "split" ? view.width * byId("split-slider").value / 100 : 0;
  pen.save();
  pen.beginPath();
  pen.rect(at, 0, view.width - at, view.height);
  pen.clip();
  pen.imageSmoothingEnabled = true;
  pen.drawImage(drawn, left, top, right - left, bottom - top);
  pen.restore();
  if (show !== "split") return;
  pen.fillStyle = "#fff";
  pen.fillRect(at - 2, 0, 4, view.height);
  pen.fillStyle = "#16130f";
  pen.fillRect(at - 0.75, 0, 1.5, view.height);
}

function choose() {
  clearInterval(timer);
  const show = document.querySelector('input[name="show"]:checked').value;
  byId("split-slider").disabled = show !== "split";
  if (show === "blink") timer = setInterval(() => { showing = !showing; view.redraw(); }, BLINK);
  showing = true;
  if (view) view.redraw();
}

export function startCompare() {
  byId("split-slider").addEventListener("input", () => view && view.redraw());
  for (const one of document.querySelectorAll('input[name="show"], input[name="fit"]')) one.addEventListener("change", choose);
}

export function pauseCompare(hidden) {
  if (hidden) { clearInterval(timer); return; }
  choose();
  renewDrawing();
}
