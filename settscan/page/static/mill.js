// At the mill: one card at a time; every step is on the disk before the hand is back at the peg.
import { byId, draw, make, say } from "./say.js";
import { ask, listen, send } from "./server.js";
import { keepAwake } from "./awake.js";
import { speak, startSpeech } from "./speech.js";
import { plural } from "./words.js";

const base = `/p/${byId("desk").dataset.project}`;
const PAUSE = 15 * 60; // seconds of winding after which a rest is named
let cards = [];
let plan = null;
let place = null;
let sending = false;
let rested = 0;

async function load() {
  plan = await ask(`${base}/cards`);
  cards = plan.cards;
  take(plan.place);
  for (const [id, lines] of [["recover", plan.recover], ["cautions", plan.cautions]]) {
    byId(id).replaceChildren(...lines.map((line) => make("li", {}, line)));
  }
}

function take(found) {
  place = found;
  byId("question").hidden = !found.question;
  byId("question").textContent = found.question;
  show();
}

function where(card) {
  if (card.kind !== "wind") return "";
  const passes = card.in_hand > 1 ? "" : `, ${plural(card.passes, "pass", "passes")}`;
  const way = card.begins === card.finishes ? `begins and ends at the ${card.begins}` : `from the ${card.begins} to the ${card.finishes}`;
  return `${way}${passes}`;
}

function nextWords(card) {
  if (!card) return "";
  const change = card.change ? `${card.change} ` : "";
  return `Next: ${change}${card.head}`;
}

function show() {
  const card = cards[place.done];
  if (!card) return;
  byId("card").className = card.kind === "wind" ? "card" : "card words";
  byId("change").textContent = card.change || "";
  byId("head").textContent = card.head;
  byId("where").textContent = where(card);
  const steps = card.numbered || 0;
  const lists = [["ol", card.lines.slice(0, steps)], ["ul", card.lines.slice(steps)]].filter(([, lines]) => lines.length);
  byId("card-lines").replaceChildren(...lists.map(([list, lines]) => make(list, {}, ...lines.map((line) => make("li", {}, line)))));
  byId("swatch").toggleAttribute("hidden", card.kind !== "wind");
  if (card.kind === "wind") byId("swatch").replaceChildren(...card.yarns.flatMap(lettered));
  byId("next").textContent = nextWords(cards[place.done + 1]);
  byId("on").textContent = card.kind === "done" ? "The end" : "Done, next";
  byId("on").disabled = place.done >= cards.length - 1;
  byId("back").disabled = place.done === 0;
  totals(card);
  document.body.dataset.card = String(place.done);
}

// The colour of a yarn in the hand with its letter, beside those that are wound with it.
function lettered(key, at, yarns) {
  const wide = 10 / yarns.length;
  const plate = Math.min(5.2, 0.8 * wide);
  const middle = (at + 0.5) * wide;
  const size = Math.min(4.4, (plate - 0.6) / (0.7 * key.length));
  return [
    draw("rect", { x: at * wide, width: wide, height: 10, fill: plan.value[key] }),
    draw("rect", { class: "plate", x: middle - plate / 2, y: 2.4, width: plate, height: 5.2, rx: 0.6 }),
    draw("text", { x: middle, y: 5 + 0.36 * size, "font-size": size }, key),
  ];
}

// Nobody knows to the minute how long it will take: five minutes, or half an hour of many hours.
function roughly(seconds) {
  if (seconds < 90 * 60) return `${Math.max(1, Math.round(seconds / 300)) * 5} min`;
  const halves = Math.round(seconds / 1800);
  return `${Math.floor(halves / 2)}${halves % 2 ? " 1/2" : ""} h`;
}

function minutes(seconds) {
  const whole = Math.round(seconds / 60);
  if (whole < 90) return `${whole} min`;
  return whole % 60 ? `${Math.floor(whole / 60)} h ${whole % 60} min` : `${whole / 60} h`;
}

function totals(card) {
  const before = place.done ? cards[place.done - 1] : null;
  const inBout = before && before.bout === card.bout ? before.bout_total : 0;
  byId("in-bout").parentElement.hidden = !cards.some((one) => one.bout_ends); // a beam has sections
  byId("in-bout").textContent = card.bout_ends ? `${inBout} of ${card.bout_ends}` : "–";
  byId("in-warp").textContent = `${place.wound} of ${plan.ends}`;
  byId("spent").textContent = minutes(place.seconds);
  const share = plan.ends ? place.wound / plan.ends : 0;
  const own = share > 0.05 && place.seconds > 120 ? place.seconds * (1 - share) / share : null;
  const left = own !== null ? own : plan.minutes === null ? null : plan.minutes * 60 * (1 - share);
  byId("left").textContent = card.kind === "done" ? "nothing" : left === null ? "–" : `about ${roughly(left)}`;
  byId("clock-told").textContent = `${place.wound} of ${plan.ends} ends are wound`;
  byId("hand").setAttribute("d", slice(share));
  if (place.seconds - rested > PAUSE) {
    rested = place.seconds;
    byId("rest").textContent = "A quarter of an hour at the mill: let the shoulder and the hand rest a little.";
  }
}

function slice(share) {
  if (share <= 0) return "";
  if (share >= 1) return "M50 6A44 44 0 1 1 49.99 6Z";
  const turn = 2 * Math.PI * share;
  const [x, y] = [50 + 44 * Math.sin(turn), 50 - 44 * Math.cos(turn)];
  return `M50 50V6A44 44 0 ${share > 0.5 ? 1 : 0} 1 ${x.toFixed(2)} ${y.toFixed(2)}Z`;
}

function spoken(card) {
  const change = card.change ? `${card.change} ` : "";
  return card.kind === "wind" ? `${change}${card.ends} ${card.colour}, to the ${card.finishes}.` : `${card.head}. ${card.lines.join(" ")}`;
}

async function go(by) {
  if (!place) return; // nothing can be wound yet
  const to = place.done + by;
  if (sending || to < 0 || to >= cards.length) return;
  sending = true;
  byId("rest").textContent = "";
  keepAwake();
  try {
    take(await save({ seen: place.done, to }));
    speak(spoken(cards[place.done]));
  } catch (error) {
    say(error.message, true);
    await load().catch(() => {});
  }
  sending = false;
}

// A step that could not be saved is tried again until it is; the card stays until then.
async function save(body) {
  for (;;) {
    try {
      return await send(`${base}/go`, body);
    } catch (error) {
      if (error.status) throw error;
      say("Not saved yet: settscan does not answer. Trying again ...", true);
      await new Promise((done) => setTimeout(done, 2000));
      const now = await ask(`${base}/cards`).catch(() => null);
      if (now && now.place.done === body.to) return now.place; // it had arrived after all
    }
  }
}

function key(event) {
  if (event.ctrlKey || event.metaKey || event.altKey || event.repeat) return;
  if (event.target.matches("input, select, summary, a") || (event.target.matches("button") && [" ", "Enter"].includes(event.key))) return;
  const by = { " ": 1, ArrowRight: 1, ArrowDown: 1, PageDown: 1, Enter: 1, ArrowLeft: -1, ArrowUp: -1, PageUp: -1, Backspace: -1 }[event.key];
  if (!by) return;
  event.preventDefault();
  go(by);
}

// A warp that cannot be planned has no step to show: only why, and the way back, until it is mended.
function nothing(told) {
  byId("question").hidden = false;
  byId("question").textContent = told;
  byId("main").classList.add("nothing");
  let had;
  listen(`${base}/events`, (news) => {
    if (had !== undefined && news.revision !== had) location.reload();
    had = news.revision;
  });
  document.body.dataset.ready = "yes";
}

async function start() {
  startSpeech(byId("speak"));
  byId("on").addEventListener("click", () => go(1));
  byId("back").addEventListener("click", () => go(-1));
  byId("again").addEventListener("click", async () => { await send(`${base}/go`, { again: true }); await load(); say("At the first step again."); });
  document.addEventListener("keydown", key);
  await load();
  rested = place.seconds;
  listen(`${base}/events`, async (news) => {
    const moved = news.moved !== undefined && news.moved !== place.moved;
    if (!sending && (moved || (news.revision !== undefined && news.revision !== plan.revision))) await load().catch(() => {});
  });
  document.body.dataset.ready = "yes";
}

start().catch((error) => nothing(error.message));
