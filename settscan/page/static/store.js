// The project as this page knows it; edits go out in order, each on the state that was seen.
import { ask, send } from "./server.js";
import { byId, say } from "./say.js";

const name = byId("desk").dataset.project;
export const base = `/p/${name}`;
export const store = { state: null, side: "warp", line: 0 };
const watchers = [];
let queue = Promise.resolve();

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
  if (store.state && state.revision < store.state.revision) return;
  store.state = state;
  const problem = byId("problem");
  problem.hidden = !state.problem;
  if (state.problem) {
    problem.textContent = `The project file has a mistake, perhaps from a text editor. Nothing is overwritten; mend it there and this page goes on.\n${state.problem}`;
    return;
  }
  const lines = state[store.side].lines;
  store.line = Math.min(store.line, lines.length - 1);
  changed();
}

// Edits wait for each other: two quick ones never meet on the server.
function inTurn(work) {
  const done = queue.then(work, work);
  queue = done.catch(() => {});
  return done;
}

export function post(path, body) {
  return inTurn(async () => {
    try {
      const state = await send(`${base}/${path}`, { revision: store.state.revision, ...body });
      const told = state.told;
      take(state);
      if (told) say(told);
      return state;
    } catch (error) {
      say(error.message, true);
      await refresh();
      throw error;
    }
  });
}

export function edit(what) {
  return post("edit", { edit: what }).catch(() => null);
}

export function editSide(what) {
  return edit({ side: store.side, ...what });
}
