// The first page: photos handed in and read, a cloth begun from counts on paper.
import { byId, make, say } from "./say.js";
import { listen, send, upload } from "./server.js";

let wanted = null; // the reading that is shown: its number, its project, whether it was begun here

function trouble(text) {
  const place = byId("trouble");
  place.hidden = !text;
  place.className = "problem";
  place.textContent = text;
}

function chooseIn(id, name) {
  const select = byId(id);
  if (name && ![...select.options].some((one) => one.value === name)) select.append(make("option", {}, name));
  select.value = name;
}

async function handIn(files) {
  trouble("");
  const few = [...files].slice(0, 2);
  try {
    const names = [];
    for (const file of few) { say(`Taking ${file.name} ...`); names.push(await upload(file)); }
    byId("chosen").hidden = false;
    for (const id of ["whole", "close"]) for (const name of names) { const had = byId(id).value; chooseIn(id, name); byId(id).value = had; }
    chooseIn("whole", names[0] || "");
    chooseIn("close", names[1] || "");
    byId("read").focus();
    say(names.length > 1 ? "Both photos are here." : "The photo is here.");
  } catch (error) { say(""); trouble(error.message); }
}

async function read() {
  trouble("");
  const photos = [byId("whole").value, byId("close").value].filter(Boolean);
  try {
    const given = { warpRuns: byId("runs").value, weave: byId("weave").value, units: byId("units").value };
    const { job, file, taken } = await send("/read", { photos, ...given });
    if (taken) say(`It will be called ${file}, for there is a project of the photo's name.`);
    wanted = { number: job.number, file, ours: true };
    showJob(job);
  } catch (error) { trouble(error.message); }
}

function showJob(job) {
  if (!job) return;
  // After a reload, or in another tab, the reading that goes on is shown as well.
  if (!wanted && job.running) wanted = { number: job.number, file: job.project, ours: false };
  if (!wanted || job.number !== wanted.number) return;
  byId("progress").hidden = !job.running;
  byId("read").disabled = job.running;
  byId("bar").value = job.share;
  byId("doing").textContent = job.told;
  if (job.running) return;
  if (job.failed) {
    trouble([job.failed, ...job.advice].join("\n"));
    if (job.picture) byId("trouble").append("\n", make("a", { href: job.picture, target: "_blank" }, "The picture of what was seen"));
    return;
  }
  const there = `/p/${encodeURIComponent(wanted.file)}`;
  if (wanted.ours) { location.href = there; return; }
  // Whoever did not begin it here may be in the middle of something.
  byId("finished").replaceChildren(make("a", { class: "button", href: there }, `Open ${wanted.file}, which is read`));
}

function startDrop() {
  const drop = byId("drop");
  for (const event of ["dragenter", "dragover"]) drop.addEventListener(event, (one) => { one.preventDefault(); drop.classList.add("over"); });
  for (const event of ["dragleave", "drop"]) drop.addEventListener(event, () => drop.classList.remove("over"));
  for (const event of ["dragover", "drop"]) window.addEventListener(event, (one) => one.preventDefault());
  drop.addEventListener("drop", (event) => handIn(event.dataTransfer.files));
  byId("files").addEventListener("change", (event) => handIn(event.target.files));
}

async function begin(event) {
  event.preventDefault();
  const place = byId("typed-trouble");
  place.textContent = "";
  try {
    const { file } = await send("/new", Object.fromEntries(new FormData(byId("typed"))));
    location.href = `/p/${encodeURIComponent(file)}`;
  } catch (error) { place.textContent = error.message; }
}

startDrop();
byId("read").addEventListener("click", read);
byId("stop").addEventListener("click", () => send("/stop", {}));
byId("typed").addEventListener("submit", begin);
const there = byId("there");
if (there) there.addEventListener("click", () => { byId("chosen").hidden = false; byId("whole").focus(); });
const { first } = byId("chosen").dataset;
if (first) { byId("chosen").hidden = false; chooseIn("whole", first); }
listen("/events", (news) => showJob(news.job));
document.body.dataset.ready = "yes";
