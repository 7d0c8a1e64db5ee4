// The plan: a form of wishes, and what follows from them at once.
import { byId, make } from "./say.js";
import { base, post, store } from "./store.js";
import { ask } from "./server.js";
import { plural } from "./words.js";

const FILES = [
  ["sheets.pdf", "Sheets (PDF)"], ["sheets.html", "Sheets (HTML)"], ["warp.wif", "Draft (WIF)"], ["stripes.csv", "Stripes (CSV)"],
  ["ends.csv", "Ends (CSV)"], ["picks.csv", "Picks (CSV)"], ["plan.json", "Plan (JSON)"], ["preview.png", "Cloth (PNG)"],
  ["preview.svg", "Cloth (SVG)"], ["project", "Project file (TOML)"],
];
const PAPER_COOKIE = "settscan-paper";
let formOf = -1;
let planOf = -1;
let paperChosen = false; // by hand, now or earlier; else it follows the units
let writing = 0; // fields on their way: the form stays as it is typed until they are answered
let stale = false; // whether the form was not shown anew because of what is typed in it

export async function showPlan() {
  const { revision } = store.state;
  if (!writing && formOf !== revision) {
    formOf = revision;
    const form = await ask(`${base}/form`);
    stale = writing > 0 || byId("form").querySelector("[aria-invalid]") !== null;
    if (!stale) showForm(form);
  }
  if (planOf !== revision) { planOf = revision; showAnswers(await ask(`${base}/plan`)); }
}

function table(element, head, rows, columns = head.length) {
  // Each cell knows the head of its column: on a phone the cells of a row stand one below the other.
  const cells = (row, tag) => row.slice(0, columns).map((text, k) => (tag === "th" && text ? make("th", { scope: "col" }, text) : make("td", { "data-head": head[k] }, text)));
  element.replaceChildren(make("thead", {}, make("tr", {}, ...cells(head, "th"))), make("tbody", {}, ...rows.map((row) => make("tr", {}, ...cells(row, "td")))));
}

function list(id, texts) { byId(id).replaceChildren(...texts.map((text) => make("li", {}, text))); }

function derivation(steps) {
  return steps.flatMap(([label, text]) => [make("p", {}, make("strong", {}, `${label}: `), text)]);
}

function showAnswers(plan) {
  byId("plan-problem").textContent = plan.problem;
  for (const id of ["answered", "sheets-row"]) byId(id).hidden = Boolean(plan.problem);
  byId("no-sheets").hidden = !plan.problem;
  for (const one of byId("files").children) one.hidden = Boolean(plan.problem) && one.dataset.file !== "project";
  for (const id of ["figures", "warnings"]) byId(id).replaceChildren();
  if (plan.problem) return;
  if (!paperChosen) { byId("paper").value = plan.paper; links(); }
  list("warnings", plan.warnings);
  const many = plan.warnings.length;
  byId("warned").textContent = many ? `Below the figures: ${plural(many, "thing")} to look at before winding.` : "";
  const opened = new Set([...document.querySelectorAll("#figures details[open]")].map((one) => one.dataset.of));
  byId("figures").replaceChildren(...plan.figures.map((one) => {
    const how = make("details", { "data-of": one.label, open: opened.has(one.label) },
      make("summary", { "aria-label": `How ${one.label} comes about` }, "how"), ...derivation(one.steps));
    return make("div", {}, make("dt", {}, one.label),
      make("dd", {}, make("span", { class: "value" }, one.value), make("span", { class: "soft" }, one.note), one.steps.length ? how : ""));
  }));
  table(byId("yarn-table"), plan.yarnHead, plan.yarns.map((one) => one.row));
  byId("steps").replaceChildren(...plan.steps.flatMap(([label, text]) => [make("dt", {}, label), make("dd", {}, text)]));
  byId("divide").textContent = plan.divide;
  table(byId("reed-table"), plan.reedHead, plan.reeds);
  table(byId("loss-table"), plan.lossHead, plan.losses);
  list("sley", [...plan.sley, ...plan.threading]);
}

function control(field) {
  const about = `${field.id}-about`;
  const common = { id: field.id, "aria-describedby": `${about} ${field.id}-trouble` };
  if (field.how === "truth") {
    return make("input", { ...common, type: "checkbox", checked: field.value === true });
  }
  if (field.how === "choice") {
    return make("select", common, ...field.choices.map((one) => make("option", { value: one, selected: one === field.value }, one || "none")));
  }
  return make("input", { ...common, value: String(field.value), placeholder: field.example, inputmode: field.how === "whole" ? "numeric" : "text" });
}

function row(field) {
  const input = control(field);
  const trouble = make("p", { class: "trouble", id: `${field.id}-trouble`, role: "alert" });
  input.addEventListener("change", () => write(field, input, trouble));
  const about = make("p", { class: "soft", id: `${field.id}-about` }, field.about);
  if (field.how === "truth") return make("div", { class: "field" }, make("label", { class: "tick" }, input, field.label), about, trouble);
  return make("div", { class: "field" }, make("label", { for: field.id }, field.label), input, about, trouble);
}

async function write(field, input, trouble) {
  const value = field.how === "truth" ? input.checked : input.value;
  writing += 1;
  try {
    await post("field", { section: field.section, key: field.key, value });
    trouble.textContent = "";
    input.removeAttribute("aria-invalid");
    const others = ["width", "length", "warp_repeats", "weft_repeats"].includes(field.key);
    formOf = others || stale ? -1 : store.state.revision; // else what stands in the form is what is written
  } catch (error) {
    trouble.textContent = error.message;
    input.setAttribute("aria-invalid", "true");
  } finally { writing -= 1; }
  await showPlan();
}

function block(title, about, fields, open) {
  return make("details", { "data-of": title, open }, make("summary", {}, title), about ? make("p", { class: "soft" }, about) : "", ...fields.map(row));
}

function showForm(form) {
  const here = document.activeElement && document.activeElement.id;
  const opened = new Set([...document.querySelectorAll("#form details[open]")].map((one) => one.dataset.of));
  const first = !byId("form").children.length;
  const lacking = form.sections.some((one) => one.name === "cloth" && one.fields.some((field) => field.value === "unknown"));
  const open = (title) => (first ? title === "What to weave" || (lacking && title === "The cloth") : opened.has(title));
  const parts = form.sections.map((one) => block(one.title, one.about, one.fields, open(one.title)));
  const yarns = form.yarns.map((one) => block(`Yarn ${one.key}, ${one.name}`, "", one.fields, open(`Yarn ${one.key}, ${one.name}`)));
  parts.splice(2, 0, ...yarns);
  byId("form").replaceChildren(make("section", { class: "sheet" }, make("h2", {}, "Your wishes"), make("p", { class: "soft" }, "Sizes as you say them: 54 in, 1.4 m, 30 cm. Yarns as on the label: 2/8 worsted, 30 tex. An empty field takes the usual."), ...parts));
  const again = here && byId(here);
  if (again) again.focus();
}

function links() {
  const paper = byId("paper").value;
  const to = (file, extra = "") => `${base}/files?file=${file}&paper=${paper}${extra}`;
  byId("open-pdf").href = to("sheets.pdf", "&open=1");
  byId("open-html").href = to("sheets.html", "&open=1");
  byId("files").replaceChildren(...FILES.map(([file, told]) => make("li", { "data-file": file }, make("a", { href: to(file), download: "" }, told))));
}

// Kept as words, size and tone of the page are: in a cookie, for what is stored else is lost with
// the port, which may be another one tomorrow. It is what the printer holds, whatever the project.
function keepPaper() {
  document.cookie = `${PAPER_COOKIE}=${byId("paper").value}; max-age=31536000; samesite=strict; path=/`;
}

function keptPaper() {
  const kept = document.cookie.split("; ").find((one) => one.startsWith(`${PAPER_COOKIE}=`));
  const wanted = kept && kept.slice(PAPER_COOKIE.length + 1);
  return [...byId("paper").options].map((one) => one.value).find((one) => one === wanted);
}

export function startPlan() {
  const kept = keptPaper();
  if (kept) { byId("paper").value = kept; paperChosen = true; }
  byId("paper").addEventListener("change", () => { paperChosen = true; keepPaper(); links(); });
  byId("form").addEventListener("submit", (event) => event.preventDefault());
  links();
}
