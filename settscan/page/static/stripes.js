// The stripes: the list, the one that is chosen, what to look at first.
import { byId, make, say, swatch } from "./say.js";
import { base, choose, edit, editSide, post, side, store, watch, yarn } from "./store.js";
import { send } from "./server.js";
import { colour, plural } from "./words.js";

const rows = [];

function doubtWords(line) {
  if (line.certain) return "certain";
  if (!line.doubt) return "";
  const { low, high, chance, note } = line.doubt;
  const range = low === high ? `${low} or more` : `${low} to ${high}`;
  return `in doubt: ${range}, ${chance} %${note ? `, ${note}` : ""}`;
}

function name(line) { return `${line.yarn}  ${yarn(line.yarn).name}`; }

function row(index) {
  const number = make("span", { class: "number" });
  const place = make("span");
  const what = make("span");
  const threads = make("span", { class: "threads" });
  const said = make("span", { class: "said" });
  const button = make("button", { type: "button", on: { click: () => choose(index) } }, number, place, what, threads, said);
  button.addEventListener("keydown", (event) => walk(event, index));
  const item = make("li", {}, button);
  return { item, button, number, place, what, threads, said, hue: "" };
}

function walk(event, index) {
  const step = { ArrowDown: 1, ArrowUp: -1 }[event.key];
  if (!step || !rows[index + step] || rows[index + step].item.hidden) return;
  event.preventDefault();
  choose(index + step);
  rows[index + step].button.focus();
}

function put(element, text) { if (element.textContent !== text) element.textContent = text; }

function showList() {
  const { lines, pivots } = side();
  const list = byId("lines");
  while (rows.length < lines.length) { rows.push(row(rows.length)); list.append(rows.at(-1).item); }
  rows.forEach((one, index) => {
    const line = lines[index];
    one.item.hidden = !line;
    if (!line) return;
    const hue = yarn(line.yarn).colour;
    if (one.hue !== hue) { one.place.replaceChildren(swatch(hue)); one.hue = hue; }
    put(one.number, String(index + 1));
    put(one.what, `${name(line)}${pivots.includes(index) ? ", pivot" : ""}`);
    put(one.threads, String(line.threads));
    put(one.said, doubtWords(line));
    const on = index === store.line;
    if (on !== (one.button.getAttribute("aria-current") === "true")) one.button.setAttribute("aria-current", String(on));
  });
  // Only then, since to ask where it lies means to lay out the whole list at once.
  const here = rows[store.line];
  const chosen = `${store.side}${store.line} of ${lines.length}`;
  if (list.dataset.chosen !== chosen && here && here.item.parentNode) {
    list.dataset.chosen = chosen;
    const [top, bottom] = [here.item.offsetTop, here.item.offsetTop + here.item.offsetHeight];
    if (top < list.scrollTop) list.scrollTop = top;
    else if (bottom > list.scrollTop + list.clientHeight) list.scrollTop = bottom - list.clientHeight;
  }
}

function options(select, chosen) {
  const wanted = store.state.yarns.map((one) => `${one.key}  ${one.name}`).join("\n");
  if (select.dataset.had !== wanted) {
    select.dataset.had = wanted;
    select.replaceChildren(...store.state.yarns.map((one) => make("option", { value: one.key }, `${one.key}  ${one.name}`)));
  }
  if (chosen) select.value = chosen;
}

function showOne() {
  const line = side().lines[store.line];
  const follows = store.side === "weft" && store.state.likeWarp;
  byId("one-head").textContent = `Stripe ${store.line + 1} of the ${store.side}`;
  const count = byId("one-count");
  if (document.activeElement !== count || count.dataset.of !== `${store.side}${store.line}`) count.value = line.threads;
  count.dataset.of = `${store.side}${store.line}`;
  options(byId("one-yarn"), line.yarn);
  const other = store.state.yarns.find((one) => one.key !== line.yarn);
  for (const id of ["split-yarn", "insert-yarn"]) {
    const had = byId(id).value;
    options(byId(id), had && had !== line.yarn ? had : other && other.key);
  }
  byId("one-certain").checked = line.certain;
  byId("one-told").textContent = follows ? "The weft is made like the warp: change it there, or untick that." : doubtWords(line);
  for (const control of byId("one-body").querySelectorAll("input, select, button")) {
    control.disabled = follows && !["one-prev", "one-next"].includes(control.id);
  }
}

function showFirst() {
  const { look, lines, breaks } = side();
  const items = look.map((index) => {
    const line = lines[index];
    const why = line.doubt ? `${line.doubt.chance} %` : "narrow";
    const text = `${index + 1}: ${yarn(line.yarn).name} ${line.threads}, ${why}`;
    return make("li", {}, make("button", { type: "button", on: { click: () => { choose(index); byId("one-count").focus(); } } }, text));
  });
  if (!items.length && !breaks.length) items.push(make("li", { class: "good" }, "Nothing is in doubt."));
  byId("look-first").replaceChildren(...items);
  byId("breaks").replaceChildren(...breaks.map((one) => slip(one, lines[one.line])));
}

function slip(one, line) {
  const told = `In place ${one.place + 1} of the photo, ${yarn(line.yarn).name} has ${one.found} threads where the repeat has ${one.written}. Perhaps a slip of the first weaver.`;
  return make("div", { class: "break" }, make("p", {}, told), make("p", { class: "row" },
    make("button", { type: "button", on: { click: () => editSide({ name: "mend", place: one.place }) } }, "Mend it"),
    make("button", { type: "button", on: { click: () => editSide({ name: "write-out" }) } }, "Copy it"),
    make("button", { type: "button", on: { click: () => editSide({ name: "count", line: one.line, threads: one.found }) } }, `The repeat has ${one.found}`)));
}

function showWhole() {
  const one = side();
  const pivots = one.pivots.map((index) => `${yarn(one.lines[index].yarn).name} ${one.lines[index].threads}`);
  put(byId("repeat-told"), `${plural(one.lines.length, "stripe")}; ${one.kindWords}. `
    + (one.kind === "partial" ? `${one.repeat} threads together.` : `One whole repeat has ${one.repeat} threads.`)
    + (pivots.length ? ` Pivots: ${pivots.join(" and ")}.` : ""));
  const all = one.kind === "partial" ? "Altogether" : "In one repeat";
  put(byId("totals"), `${all}: ` + Object.entries(one.totals).map(([key, threads]) => `${yarn(key).name} ${threads}`).join(", "));
  put(byId("sequence"), one.sequence);
  byId("kind").value = one.kind;
  for (const id of ["warp", "weft"]) byId(`side-${id}`).setAttribute("aria-pressed", String(store.side === id));
  byId("like-row").hidden = store.side !== "weft";
  byId("like-warp").checked = store.state.likeWarp;
  const follows = store.side === "weft" && store.state.likeWarp;
  for (const id of ["kind", "fold", "write-out"]) byId(id).disabled = follows;
  byId("write-out").disabled = follows || !one.shown.length || one.kind === "partial";
  byId("places-told").textContent = one.shown.length
    ? (one.exact ? "" : "The places in the picture are worked out from the counts; read the photo again to see them exactly.")
    : "It is not known where these stripes lie in a picture.";
  byId("undo").disabled = !store.state.undo;
  byId("redo").disabled = !store.state.redo;
  byId("second-look").disabled = !store.state.photo;
}

function whole(id) {
  const text = byId(id).value.trim();
  if (!/^[0-9]{1,15}$/.test(text)) { say("Write a whole number, as in 12.", true); byId(id).focus(); return null; }
  return Number(text);
}

function countTyped() {
  const threads = whole("one-count");
  if (threads === null || threads === side().lines[store.line].threads) return;
  editSide({ name: "count", line: store.line, threads });
}

function step(by) {
  editSide({ name: "count", line: store.line, threads: Math.max(1, side().lines[store.line].threads + by) });
}

function insert(inside) {
  const threads = whole("insert-count");
  const before = inside ? whole("insert-before") : undefined;
  if (threads === null || before === null) return;
  editSide({ name: "insert", line: store.line, threads, yarn: byId("insert-yarn").value, before });
}

function on(id, event, act) { byId(id).addEventListener(event, act); }

export function startStripes() {
  on("one-count", "change", countTyped);
  on("one-count", "keydown", (event) => {
    const by = { ArrowUp: 1, ArrowDown: -1 }[event.key];
    if (by) { event.preventDefault(); step(by); }
    if (event.key === "Enter") countTyped(); // once more after a refusal, which the browser calls no change
  });
  on("one-less", "click", () => step(-1));
  on("one-more", "click", () => step(1));
  on("one-yarn", "change", () => editSide({ name: "colour", line: store.line, yarn: byId("one-yarn").value }));
  on("one-certain", "change", () => editSide({ name: "certain", line: store.line, certain: byId("one-certain").checked }));
  on("one-prev", "click", () => choose(store.line - 1));
  on("one-next", "click", () => choose(store.line + 1));
  on("split", "click", () => {
    const threads = whole("split-at");
    if (threads !== null) editSide({ name: "split", line: store.line, threads, yarn: byId("split-yarn").value });
  });
  on("insert-after", "click", () => insert(false));
  on("insert-in", "click", () => insert(true));
  on("merge", "click", () => editSide({ name: "merge", line: store.line }));
  on("apart", "click", () => edit({ name: "set-apart", side: store.side, line: store.line, text: "" }));
  on("delete", "click", () => editSide({ name: "delete", line: store.line }));
  on("kind", "change", () => editSide({ name: "kind", kind: byId("kind").value }));
  on("fold", "click", () => editSide({ name: "fold" }));
  on("write-out", "click", () => editSide({ name: "write-out" }));
  for (const id of ["warp", "weft"]) on(`side-${id}`, "click", () => choose(0, id));
  on("swap", "click", () => edit({ name: "swap" }));
  on("like-warp", "change", () => edit({ name: "weft-like-warp", on: byId("like-warp").checked }));
  on("undo", "click", () => post("undo", {}).catch(() => null));
  on("redo", "click", () => post("redo", {}).catch(() => null));
  on("second-look", "click", async () => {
    store.secondLook = true;
    try { await send(`${base}/read`, {}); say("Taking a second look; what is certain stays."); } catch (error) { say(error.message, true); }
  });
  document.addEventListener("keydown", (event) => {
    if (!(event.ctrlKey || event.metaKey) || event.target.matches("input, textarea")) return;
    const key = event.key.toLowerCase();
    if (key === "z" && !event.shiftKey) { event.preventDefault(); byId("undo").click(); }
    else if (key === "y" || (key === "z" && event.shiftKey)) { event.preventDefault(); byId("redo").click(); }
  });
  watch(() => { showList(); showOne(); showFirst(); showWhole(); });
}

export { colour };
