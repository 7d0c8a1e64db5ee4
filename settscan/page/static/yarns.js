// The colours: names, swatches, merging, and picking one from the cloth.
import { byId, make, say } from "./say.js";
import { base, edit, store, watch } from "./store.js";
import { send } from "./server.js";
import { colour } from "./words.js";

let picking = null; // the yarn whose colour the next click on the cloth gives

export function isPicking() { return picking !== null; }

function item(one, all) {
  const hue = make("input", { type: "color", value: one.colour, "aria-label": `Swatch of ${one.key}, ${one.name}` });
  hue.addEventListener("change", () => edit({ name: "recolour-yarn", yarn: one.key, colour: hue.value }));
  const name = make("input", { type: "text", value: one.name, "aria-label": `Name of ${colour} ${one.key}`, autocomplete: "off" });
  name.addEventListener("change", () => edit({ name: "rename-yarn", yarn: one.key, text: name.value }));
  const pick = make("button", { type: "button", class: "from-cloth", on: { click: () => begin(one) } }, "From the cloth");
  const into = make("select", { "aria-label": `Merge ${one.name} into` }, make("option", { value: "" }, "merge into …"),
    ...all.filter((other) => other.key !== one.key).map((other) => make("option", { value: other.key }, `${other.key}  ${other.name}`)));
  into.addEventListener("change", () => into.value && edit({ name: "merge-yarns", yarn: one.key, into: into.value }));
  const gone = make("button", { type: "button", on: { click: () => edit({ name: "remove-yarn", yarn: one.key }) } }, "Take out");
  const tools = make("div", { class: "row" }, make("strong", {}, one.key), pick, into);
  if (!one.used) tools.append(gone);
  return make("li", {}, hue, name, tools);
}

function begin(one) {
  picking = one.key;
  byId("cloth-view").classList.add("picking");
  byId("picking").textContent = `Click the cloth where ${one.name} crosses itself. Escape leaves it as it is.`;
  byId("cloth-view").focus();
}

function end() {
  picking = null;
  byId("cloth-view").classList.remove("picking");
  byId("picking").textContent = "";
}

export async function picked([x, y]) {
  const key = picking;
  end();
  if (x < 0 || y < 0 || x > 1 || y > 1) return;
  try {
    const found = await send(`${base}/colour`, { x, y });
    await edit({ name: "recolour-yarn", yarn: key, colour: found.colour });
  } catch (error) { say(error.message, true); }
}

export function startYarns() {
  let had = "";
  watch((state) => {
    const now = JSON.stringify(state.yarns);
    if (now === had) return;
    had = now;
    byId("yarns").replaceChildren(...state.yarns.map((one) => item(one, state.yarns)));
  });
  byId("add-yarn").addEventListener("click", () => edit({ name: "add-yarn", text: `new ${colour}`, colour: "#808080" }));
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && picking) end();
    const view = byId("cloth-view");
    if (event.key === "Enter" && picking && document.activeElement === view) view.dispatchEvent(new CustomEvent("pick-middle"));
  });
}

export { store };
