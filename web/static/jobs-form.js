// The form that makes or edits a job. What it holds is what is on it: nothing is kept beside.

import { make, setText, show } from "./dom.js";
import { confirmed, press } from "./jobs-dialog.js";
import { createKeys } from "./jobs-keys.js";
import { createStop } from "./jobs-stop.js";

const MOST_STOPS = 40;
const TITLES = { New: "New job", Edit: "Edit the job", Copy: "Copy of a job" };
const REARS = [["", "Nothing asked for"], ["marker", "Marker"], ["caboose", "Caboose"]];
let letGo = null;

export function openForm(place, { job, title, plan, save, close }) {
  const parts = build(job, title, plan);
  const stops = [];
  const keys = createKeys(plan, job);

  function renumber() {
    stops.forEach((stop, at) => stop.number(at, stops.length));
    show(parts.addStop, stops.length < MOST_STOPS);
    suggest();
  }
  function suggest() {
    keys.suggest(stops.map((stop) => stop.spur()));
  }
  function add(from) {
    const stop = createStop(plan, from, { move, remove, changed: suggest });
    stops.push(stop);
    parts.stops.append(stop.element);
    renumber();
    return stop;
  }
  function move(stop, by) {
    const at = stops.indexOf(stop);
    if (at + by < 0 || at + by >= stops.length) return;
    stops.splice(at + by, 0, stops.splice(at, 1)[0]);
    parts.stops.replaceChildren(...stops.map((one) => one.element));
    renumber();
    stop.focus(by);
  }
  function remove(stop) {
    const at = stops.indexOf(stop);
    stops.splice(at, 1);
    stop.element.remove();
    if (!stops.length) add();
    else renumber();
    stops[Math.min(at, stops.length - 1)].focus(0);
  }

  const read = () => ({
    id: job?.id ?? 0,
    name: parts.name.value.trim(),
    crew: parts.crew.value.trim(),
    cars: parts.cars.value === "" ? 0 : Number(parts.cars.value),
    rear: parts.form.querySelector("input[name=rear]:checked")?.value ?? "",
    keys: keys.read(),
    stops: stops.map((stop) => stop.read()),
  });

  for (const stop of job?.stops ?? [null]) add(stop ?? undefined);
  parts.keysPart.append(keys.element);
  parts.addStop.addEventListener("click", () => add().focus(0));
  const before = JSON.stringify(read());
  const dirty = () => JSON.stringify(read()) !== before;
  watchLeaving(dirty);

  parts.form.addEventListener("submit", async (event) => {
    event.preventDefault();
    if (parts.save.getAttribute("aria-disabled") === "true") return;
    const wrong = check(parts, stops);
    if (wrong) return tellWrong(parts, wrong);
    parts.save.setAttribute("aria-disabled", "true");
    const error = await save(read());
    parts.save.setAttribute("aria-disabled", "false");
    if (error) return tellWrong(parts, { text: error });
    return letGo?.();
  });
  const leave = async () => {
    if (dirty() && !(await confirmed("Leave without saving?", "What you have changed on this job is lost then.", "Leave it", "Stay"))) return;
    letGo?.();
    close();
  };
  parts.cancel.addEventListener("click", leave);
  place.replaceChildren(parts.form);
  parts.name.focus();
  parts.name.scrollIntoView({ block: "center" });
}

// The browser asks before it leaves a form with changes.
function watchLeaving(dirty) {
  const asks = (event) => dirty() && event.preventDefault();
  letGo?.();
  addEventListener("beforeunload", asks);
  letGo = () => removeEventListener("beforeunload", asks);
}

function check(parts, stops) {
  if (!parts.name.value.trim()) return { text: "Give the job a name.", at: parts.name };
  if (!parts.cars.validity.valid) return { text: "Cars are a whole number from 0 to 500.", at: parts.cars };
  for (const stop of stops) {
    const wrong = stop.check();
    if (wrong) return wrong;
  }
  return null;
}

function tellWrong(parts, { text, at }) {
  for (const marked of parts.form.querySelectorAll("[aria-invalid]")) marked.removeAttribute("aria-invalid");
  setText(parts.notice, text);
  show(parts.notice, true);
  if (!at) return;
  at.setAttribute("aria-invalid", "true");
  at.setAttribute("aria-describedby", "form-notice");
  at.focus();
}

function build(job, title, plan) {
  const parts = {
    name: make("input", { id: "job-name", type: "text", maxlength: "120", required: "", autocomplete: "off", value: job?.name ?? "" }),
    crew: make("input", { id: "job-crew", type: "text", maxlength: "120", autocomplete: "off", value: job?.crew ?? "", "aria-describedby": "crew-hint" }),
    cars: make("input", { id: "job-cars", type: "number", className: "short-input", inputmode: "numeric", min: "0", max: "500", step: "1", value: String(job?.cars ?? 0) }),
    stops: make("ol", { className: "plain form-stops" }),
    keysPart: make("div"),
    addStop: make("button", { type: "button", id: "add-stop", className: "plain-button", text: "Add a stop" }),
    notice: make("p", { id: "form-notice", className: "notice", role: "alert", hidden: "" }),
    save: make("button", { type: "submit", id: "save-job", text: "Save" }),
    cancel: press("Cancel", () => {}, "cancel", true),
  };
  const rear = make("fieldset", {}, make("legend", { text: "Rear end" }), make("div", { className: "choices" }));
  rear.lastChild.append(...REARS.map(([value, text]) => choice(value, text, (job?.rear ?? "") === value)));
  parts.form = make(
    "form", { novalidate: "", className: "job-form" },
    make("h2", { id: "editor-title", text: TITLES[title] }),
    field("job-name", "Name", parts.name),
    field("job-crew", "Crew", parts.crew, make("p", { id: "crew-hint", className: "hint", text: "Who works it. It may stay empty until the evening." })),
    make("div", { className: "pair" }, field("job-cars", "Cars in the train", parts.cars), rear),
    make("h3", { text: "Stops, in their order" }), parts.stops, make("p", {}, parts.addStop),
    plan.keys.length ? make("h3", { text: "Keys to issue" }) : null, parts.keysPart,
    make("div", { className: "form-foot" }, parts.notice, make("div", { className: "dialog-buttons" }, parts.save, parts.cancel)),
  );
  return parts;
}

function field(id, text, input, hint) {
  return make("div", { className: "field" }, make("label", { for: id, text }), input, hint);
}

function choice(value, text, checked) {
  const input = make("input", { type: "radio", name: "rear", value, ...(checked ? { checked: "" } : {}) });
  return make("label", { className: "choice" }, input, make("span", { text }));
}
