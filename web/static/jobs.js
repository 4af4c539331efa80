// The Jobs page: the list in its order, the form, files, and the evening's settings.

import { setData, setText, show } from "./dom.js";
import { HOST_CHANGE, isHost, refreshHost, signIn } from "./host.js";
import { send, sentence } from "./jobs-asking.js";
import { confirmed } from "./jobs-dialog.js";
import { exportJobs, importJobs } from "./jobs-files.js";
import { openForm } from "./jobs-form.js";
import { createCard } from "./jobs-list.js";
import { startSettings } from "./jobs-settings.js";
import { follow } from "./page.js";

const byId = (id) => document.getElementById(id);
let plan = null;
let session = null;

async function load() {
  try {
    const response = await fetch("/api/jobs");
    const said = await response.json();
    plan = response.ok ? said : null;
    trouble(response.ok ? "" : sentence(said.error));
  } catch {
    trouble("The screen could not be reached; what stands here may be old.");
  }
  draw();
}

function draw() {
  const jobs = plan?.jobs ?? [];
  setData(document.body, "listed", "yes");
  show(byId("no-jobs"), Boolean(plan) && !jobs.length);
  show(byId("guest-jobs"), jobs.length > 0 && !plan.host);
  byId("job-list").replaceChildren(...jobs.map((job, at) => createCard(job, at, plan, does)));
}

function trouble(text) {
  setText(byId("jobs-trouble"), text);
  show(byId("jobs-trouble"), Boolean(text));
}

// Says what was done; with a button where it can be taken back.
function tell(text, label = "", act = null) {
  const button = byId("notice-do");
  setText(byId("notice-text"), text);
  setText(button, label);
  show(button, Boolean(act));
  button.onclick = act;
  show(byId("notice"), Boolean(text));
}

// A guest's list lacks what the host has to edit, so the host signs in first.
async function asHost() {
  await refreshHost();
  if (!isHost() && !(await signIn())) return false;
  await load();
  return Boolean(plan);
}

async function edit(job, title) {
  const wanted = job?.id;
  if (!(await asHost())) return;
  const known = plan.jobs.find((one) => one.id === wanted);
  if (wanted && !known) return trouble("This job is gone from the list.");
  form(title === "Copy" ? copyOf(known) : known, title);
}

function copyOf(job) {
  return { ...job, id: 0, name: `${job.name} (copy)`.slice(0, 120), crew: "" };
}

function form(job, title) {
  tell("");
  const back = byId("editor").contains(document.activeElement) ? null : document.activeElement?.id;
  showEditor(true);
  openForm(byId("editor"), { job, title, plan, save, close: () => closeEditor(back) });
}

async function save(job) {
  const { said, error } = await send("/api/jobs", job);
  if (error) return error;
  await load();
  closeEditor(`job-${said.job}-edit`);
  tell(job.id ? `${job.name} is changed.` : `${job.name} is on the list.`);
  return "";
}

function closeEditor(focus) {
  showEditor(false);
  byId("editor").replaceChildren();
  (byId(focus) ?? byId("jobs-title")).focus();
}

function showEditor(open) {
  show(byId("editor"), open);
  show(byId("list-part"), !open);
  show(byId("evening"), !open);
}

async function drop(job) {
  const sure = await confirmed(`Drop ${job.name}?`, "It goes off the list, and its crew's link no longer opens a job. You can take it back.", "Drop it", "Keep it");
  if (!sure) return;
  const { error } = await send(`/api/jobs/${job.id}/drop`, {});
  if (error) return trouble(error);
  await load();
  tell(`${job.name} is off the list.`, "Take it back", () => takeBack(job));
  byId("notice-do").focus();
}

async function takeBack(job) {
  const { error } = await send(`/api/jobs/${job.id}/drop`, { back: true });
  if (error) return trouble(error);
  await load();
  tell(`${job.name} is back.`);
  (byId(`job-${job.id}-edit`) ?? byId("jobs-title")).focus();
}

async function move(job, by) {
  const ids = plan.jobs.map((one) => one.id);
  const from = ids.indexOf(job.id);
  const to = from + by;
  if (to < 0 || to >= ids.length) return;
  ids.splice(to, 0, ids.splice(from, 1)[0]);
  const { error } = await send("/api/jobs/order", { ids });
  await load();
  if (error) return trouble(error);
  tell(`${job.name} is number ${to + 1} of ${ids.length} now.`);
  const [first, second] = by < 0 ? ["up", "down"] : ["down", "up"];
  const button = byId(`job-${job.id}-${first}`);
  (button?.disabled ? byId(`job-${job.id}-${second}`) : button)?.focus();
}

const does = {
  edit: (job) => edit(job, "Edit"),
  copy: (job) => edit(job, "Copy"),
  drop,
  up: (job) => move(job, -1),
  down: (job) => move(job, 1),
};

byId("new-job").addEventListener("click", () => edit(null, "New"));
byId("export-jobs").addEventListener("click", async () => {
  if (await asHost()) exportJobs(tell, trouble);
});
byId("import-jobs").addEventListener("click", async () => {
  if (!(await asHost())) return;
  const count = await importJobs(plan.jobs.length);
  if (!count) return;
  await load();
  tell(count === 1 ? "One job came in." : `${count} jobs came in.`);
});

byId("guest-sign-in").addEventListener("click", signIn);
document.addEventListener(HOST_CHANGE, load);
// Another session may be of another layout, and the crews' links are made anew with it.
follow((stream) => {
  if (stream.state.head.session === session) return;
  session = stream.state.head.session;
  load();
});
document.addEventListener("visibilitychange", () => {
  if (!document.hidden && byId("editor").hidden) load();
});
startSettings();
load();
