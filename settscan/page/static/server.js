// Talks to settscan: asks, sends edits one after the other, listens for news.
export class Refused extends Error {
  constructor(message, advice, status) {
    super(advice ? `${message} ${advice}` : message);
    this.status = status;
  }
}

async function answered(response) {
  if (response.ok) return response.json();
  let told = {};
  try { told = await response.json(); } catch { /* a plain sentence */ }
  const message = told.message || `settscan answered ${response.status}. Open the link it printed again.`;
  throw new Refused(message, told.advice || "", response.status);
}

// What the browser says where nobody answers ("Failed to fetch") tells a weaver nothing.
async function reach(path, given) {
  try { return await fetch(path, given); } catch {
    throw new Refused("settscan does not answer, so nothing is saved just now.", "See in the terminal whether it still runs; start settscan page again and open the link that it prints.", 0);
  }
}

export async function ask(path) {
  return answered(await reach(path, { headers: { accept: "application/json" } }));
}

export async function send(path, body) {
  const headers = { "content-type": "application/json", accept: "application/json" };
  return answered(await reach(path, { method: "POST", headers, body: JSON.stringify(body) }));
}

export async function upload(file) {
  const headers = { "x-file-name": encodeURIComponent(file.name), accept: "application/json" };
  return (await answered(await reach("/upload", { method: "POST", headers, body: file }))).photo;
}

export function listen(path, hear) {
  const source = new EventSource(path);
  source.onmessage = (event) => hear(JSON.parse(event.data));
  return source;
}
