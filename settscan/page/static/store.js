// The project as this page knows it; edits go out in order, each on the state that was seen. What
// an edit does to its own stripe is shown at once; all the rest comes with the answer.
import { ask, send } from "./server.js";
import { byId, say } from "./say.js";

const name = byId("desk").dataset.project;
export const base = `/p/${name}`;
export const store = { state: null, side: "warp", line: 0 };
const watchers = [];
let queue = Promise.resolve();
let saved = null; // the state as settscan last told it
let sound = false; // whether the file was ever without mistakes here
const ahead = []; // edits that are shown but not answered yet

export function watch(act) { watchers.push(act); }

export function changed() { for (const act of watchers) act(store.state); }

export function side() { return store.state[store.side]; }

export function yarn(key) { return store.state.yarns.find((one) => one.key === key); }

export function choose(line, sideName = store.side) {
  store.side = sideName;
  const lines = store.state[sideName].lines;
  store.line = Math.min(Math.max(line, 0), lines.length - 1);
  changed();
}

export async function refresh() {
  take(await ask(`${base}/state`));
}

function take(state) {
  if (saved && state.revision < saved.revision) return;
  saved = state;
  show();
}

// What is saved, with the edits on their way.
function show() {
  const state = structuredClone(saved);
  store.state = state;
  ahead.forEach(foresee);
  const problem = byId("problem");
  problem.hidden = !state.problem;
  byId("main").hidden = Boolean(state.problem) && !sound; // of a file never understood nothing is known
  sound = sound || !state.problem;
  if (state.problem) {
    byId("undo").disabled = !state.undo;
    byId("redo").disabled = !state.redo;
    const back = state.undo ? ", or press Undo to go back to the version before it" : "";
    problem.textContent = `The project file has a mistake, perhaps from a text editor. Nothing is overwritten; mend it there and this page goes on${back}.\n${state.problem}`;
    return;
  }
  const lines = state[store.side].lines;
  store.line = Math.min(store.line, lines.length - 1);
  changed();
}

// What an edit of one stripe does to it; of all others nothing is known before the answer.
function foresee(what) {
  const line = store.state[what.side]?.lines[what.line];
  if (!line || (what.side === "weft" && store.state.likeWarp)) return;
  if (what.name === "count") Object.assign(line, { threads: what.threads, certain: true });
  if (what.name === "colour") line.yarn = what.yarn;
  if (what.name === "certain") line.certain = what.certain;
}

// An edit is on its way no longer; whether it was shown.
function answered(what) {
  const at = ahead.indexOf(what);
  if (at >= 0) ahead.splice(at, 1);
  return at >= 0;
}

export function settled() { return queue; }

// Edits wait for each other: two quick ones never meet on the server.
function inTurn(work) {
  const done = queue.then(work, work);
  queue = done.catch(() => {});
  return done;
}

export function post(path, body) {
  return inTurn(async () => {
    try {
      const state = await send(`${base}/${path}`, { revision: saved.revision, ...body });
      const told = state.told;
      answered(body.edit);
      take(state);
      if (told) say(told);
      return state;
    } catch (error) {
      if (answered(body.edit)) show();
      say(error.message, true);
      await refresh();
      throw error;
    }
  });
}

export function edit(what) {
  if (["count", "colour", "certain"].includes(what.name)) {
    ahead.push(what);
    show();
  }
  return post("edit", { edit: what }).catch(() => null);
}

export function editSide(what) {
  return edit({ side: store.side, ...what });
}
