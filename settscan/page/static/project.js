// A project's page: its parts behind tabs, its pictures, and the news from settscan.
import { byId, say } from "./say.js";
import { base, refresh, settled, store, watch } from "./store.js";
import { listen } from "./server.js";
import { View, zoomButtons } from "./view.js";
import { Overlay } from "./overlay.js";
import { startStripes } from "./stripes.js";
import { isPicking, picked, startYarns } from "./yarns.js";
import { openPhoto, paintPhoto, showJob, startPhoto } from "./photo.js";
import { openCompare, pauseCompare, renewDrawing, startCompare } from "./compare.js";
import { showPlan, startPlan } from "./plan.js";

const PARTS = ["photo", "stripes", "compare", "plan"];
const views = {
  photo: new View(byId("photo-view")),
  cloth: new View(byId("cloth-view")),
  compare: new View(byId("compare-view")),
};
const overlay = new Overlay(views.cloth);
let part = "stripes";
let reading = false;

function show(wanted, focus = false) {
  part = PARTS.includes(wanted) ? wanted : "stripes";
  for (const one of PARTS) {
    byId(one).hidden = one !== part;
    const tab = byId(`tab-${one}`);
    tab.setAttribute("aria-selected", String(one === part));
    tab.tabIndex = one === part ? 0 : -1;
    if (focus && one === part) tab.focus();
  }
  document.fonts.ready.then(tabInSight);
  history.replaceState(null, "", `#${part}`);
  pauseCompare(part !== "compare");
  if (part === "plan" && store.state && store.state.yarns) showPlan();
  for (const view of Object.values(views)) view.redraw();
}

// On a phone the tabs are one row that moves; how wide they are is known with their letters.
function tabInSight() { byId(`tab-${part}`).scrollIntoView({ block: "nearest", inline: "nearest" }); }

function startTabs() {
  for (const one of PARTS) byId(`tab-${one}`).addEventListener("click", () => show(one));
  byId("tabs").addEventListener("keydown", (event) => {
    const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    if (step) { event.preventDefault(); show(PARTS[(PARTS.indexOf(part) + step + PARTS.length) % PARTS.length], true); }
  });
  window.addEventListener("hashchange", () => show(location.hash.slice(1)));
}

function emptyView(view, told) {
  if (view.element.querySelector(".view-empty")) return;
  const note = document.createElement("p");
  note.className = "view-empty";
  note.textContent = told;
  view.element.append(note);
}

// Why a part has no picture, and where to go on.
function why(view) {
  const { photo } = store.state;
  if (!photo) {
    return `This cloth was written down, not read from a photo${{
      photo: ". A photo is read from the first page.",
      cloth: ". Its stripes are changed in the list.",
      compare: ", so there is nothing to compare it with. The sheets in the plan show it drawn from its counts.",
    }[view]}`;
  }
  return {
    photo: `The photo ${photo} does not lie in the folder of this project. Put it there and reload this page.`,
    cloth: "No straightened photo lies in the folder of this project. The stripes can be changed in the list.",
    compare: "No straightened photo lies in the folder of this project, so there is nothing to compare with. Read the photo again.",
  }[view];
}

async function openPictures() {
  const found = await openPhoto(views.photo);
  for (const note of document.querySelectorAll(".view-empty")) note.remove();
  document.body.classList.toggle("no-photo", !found.photo);
  document.body.classList.toggle("no-cloth", !found.cloth);
  if (found.cloth) views.cloth.open(found.cloth, `${base}/tile?which=cloth`);
  if (!found.photo) emptyView(views.photo, why("photo"));
  if (!found.cloth) for (const one of ["cloth", "compare"]) emptyView(views[one], why(one));
  openCompare(views.compare, found);
}

async function hear(news) {
  if (!store.state) return;
  showJob(news.job);
  await settled(); // an edit of our own may be known to us before its answer is
  const before = reading;
  const done = reading && news.job && !news.job.running;
  reading = Boolean(news.job && news.job.running);
  if (news.revision !== undefined && news.revision > store.state.revision) {
    const had = store.state.revision;
    await refresh();
    if (!before && store.state.revision > had) say("The project was changed elsewhere; this is the newest state.");
  }
  if (done) await openPictures();
}

async function start() {
  startTabs();
  zoomButtons(views);
  startStripes();
  startYarns();
  startPhoto();
  startCompare();
  startPlan();
  views.photo.watchers.push(paintPhoto);
  views.cloth.click = (event) => {
    if (isPicking()) picked(views.cloth.toShare(event));
    else overlay.pressed(event);
  };
  byId("cloth-view").addEventListener("pick-middle", () => {
    const { element, picture } = views.cloth;
    if (!picture) return;
    const box = element.getBoundingClientRect();
    picked(views.cloth.toShare({ clientX: box.left + box.width / 2, clientY: box.top + box.height / 2 }));
  });
  watch(() => { overlay.redraw(); renewDrawing(); if (part === "plan") showPlan(); });
  let chosen = "";
  watch(() => {
    const now = `${store.side}${store.line}`;
    const one = store.state[store.side].shown.find((each) => each[0] === store.line);
    if (now === chosen || !one || !views.cloth.picture) return;
    chosen = now;
    const middle = (one[2] + one[3]) / 2;
    const [x, y] = views.cloth.toShare({ clientX: 0, clientY: 0 });
    views.cloth.show(...(overlay.level ? [Math.min(Math.max(x, 0.5), 0.5), middle] : [middle, Math.min(Math.max(y, 0.5), 0.5)]));
  });
  await refresh();
  show(location.hash.slice(1) || "stripes");
  await openPictures();
  listen(`${base}/events`, hear);
  document.body.dataset.ready = "yes";
}

start().catch((error) => say(error.message, true));
