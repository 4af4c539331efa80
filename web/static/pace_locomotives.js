// Throttle set-up: a locomotive, its measured passes, and the settings that follow from them.

import { make, setData, setText, show } from "./dom.js";
import { HOST_CHANGE, hostFetch } from "./host.js";
import { send, sentence } from "./jobs-asking.js";
import { confirmed } from "./jobs-dialog.js";
import { adviceOf } from "./pace_advice.js";
import { numberIn, submitting, tell, textIn } from "./pace_forms.js";

const byId = (id) => document.getElementById(id);
const NEW = { id: 0, name: "", measure: { steps: 28, start: 0, middle: 0, top: 0 }, runs: [], wanted: { top_mph: null, stop_mm: 762, away_mm: null }, stop: null };

export function startLocomotives(trouble) {
  let all = [];
  let here = null;
  let waiting = false; // The next pass is to be taken.
  let seen = 0;

  async function load() {
    try {
      const response = await fetch("/api/pace/locomotives");
      const said = await response.json();
      if (!response.ok) return trouble(said.error);
      all = said.locomotives;
    } catch {
      return trouble("The screen could not be reached; what stands here may be old.");
    }
    if (here?.id === 0) return choose(here); // What has been begun is not taken away by the list.
    return choose(all.find((one) => one.id === here?.id) ?? all[0] ?? null);
  }

  function choose(one) {
    const another = one?.id !== here?.id;
    here = one;
    if (another) clear();
    const options = all.map((loco) => make("option", { value: loco.id, text: loco.name }));
    if (!all.length || one?.id === 0) options.unshift(make("option", { value: 0, text: one ? "New locomotive" : "None yet" }));
    byId("loco").replaceChildren(...options);
    byId("loco").value = String(one?.id ?? 0);
    show(byId("loco-form"), Boolean(one));
    show(byId("loco-drop"), Boolean(one?.id));
    show(byId("measuring"), Boolean(one?.id));
    if (one && another) fill(one);
    if (one) drawRuns(one);
  }

  function clear() {
    byId("advice").replaceChildren();
    show(byId("stop-form"), false);
    tell("run-said", "");
    wait(false);
  }

  function fill(one) {
    const { measure, wanted } = one;
    const values = { name: one.name, top: wanted.top_mph ?? "", stop: wanted.stop_mm, away: wanted.away_mm ?? "", steps: measure.steps, cv2: measure.start, cv6: measure.middle, cv5: measure.top };
    for (const [key, value] of Object.entries(values)) byId(`loco-${key}`).value = String(value);
    byId("run-step").max = String(measure.steps);
  }

  function drawRuns(one) {
    const steps = [...new Set(one.runs.map((run) => run.step))].sort((a, b) => a - b);
    byId("run-rows").replaceChildren(...steps.map((step) => make("tr", {}, make("th", { scope: "row", text: String(step) }), cell(one, step, true), cell(one, step, false))));
    show(byId("run-table"), steps.length > 0);
    show(byId("stop-forget"), Boolean(one.stop));
    setText(byId("advise"), one.stop ? "Work out the settings, corrected" : "Work out the settings");
  }

  function cell(one, step, forward) {
    const chips = one.runs.map((run, place) => ({ ...run, place })).filter((run) => run.step === step && run.forward === forward);
    return make("td", {}, ...chips.map((run) => {
      const text = run.mph ? run.mph.toFixed(1) : "stood";
      const chip = make("button", { type: "button", className: "plain-button run-chip", text, "aria-label": `Throw away ${text}, step ${step}, ${forward ? "forward" : "reverse"}` });
      chip.addEventListener("click", () => change("runs/forget", { place: run.place }));
      return chip;
    }));
  }

  async function change(what, body) {
    const { said, error } = await send(`/api/pace/locomotives/${here.id}/${what}`, body);
    tell("run-said", error ?? "");
    if (error) return false;
    all = all.map((one) => (one.id === said.id ? said : one));
    choose(said);
    return true;
  }

  function wait(on) {
    waiting = on;
    setData(byId("run-next"), "waits", on ? "yes" : "no");
    byId("run-next").setAttribute("aria-pressed", String(on));
    setText(byId("run-next"), on ? "Waiting for the next pass…" : "Take the next pass");
  }

  const forward = () => document.querySelector("input[name=way]:checked").value === "forward";

  async function keep(measured) {
    let step;
    try {
      step = numberIn("run-step");
    } catch (error) {
      return tell("run-said", error.message);
    }
    if (await change("runs", { step, forward: forward(), ...measured })) byId("run-mph").value = "";
    return undefined;
  }

  byId("loco").addEventListener("change", () => choose(all.find((one) => String(one.id) === byId("loco").value) ?? null));
  byId("loco-new").addEventListener("click", () => {
    choose(NEW);
    byId("loco-name").focus();
  });
  byId("loco-drop").addEventListener("click", async () => {
    if (!(await confirmed(`Take ${here.name} away?`, "Its passes go with it.", "Take it away", "Keep it"))) return;
    const { error } = await send(`/api/pace/locomotives/${here.id}/drop`, { back: false });
    if (error) return trouble(error);
    here = null;
    return load();
  });
  submitting(byId("loco-form"), trouble, async () => {
    const whole = (id) => numberIn(id) ?? 0;
    const body = {
      id: here.id, name: textIn("loco-name"), steps: Number(byId("loco-steps").value), cv2: whole("loco-cv2"), cv6: whole("loco-cv6"), cv5: whole("loco-cv5"),
      top_mph: numberIn("loco-top", { needed: false }), stop_mm: numberIn("loco-stop"), away_mm: numberIn("loco-away", { needed: false }),
    };
    const { said, error } = await send("/api/pace/locomotives", body);
    trouble(error ?? "");
    if (error) return;
    here = { ...here, id: said.locomotive };
    clear();
    await load();
  });
  byId("run-next").addEventListener("click", () => wait(!waiting));
  byId("run-stood").addEventListener("click", () => keep({ mph: 0 }));
  byId("run-add").addEventListener("click", () => {
    try {
      keep({ mph: numberIn("run-mph") });
    } catch (error) {
      tell("run-said", error.message);
    }
  });
  byId("advise").addEventListener("click", advise);
  submitting(byId("stop-form"), (text) => tell("run-said", text), async () => {
    const body = { cv4: numberIn("stop-cv4"), from_step: numberIn("stop-step"), stopped_mm: numberIn("stop-mm"), entry_mph: numberIn("stop-mph", { needed: false }) };
    if (await change("stop", { stop: body })) await advise();
  });
  byId("stop-forget").addEventListener("click", async () => (await change("stop", { stop: null })) && advise());
  document.addEventListener(HOST_CHANGE, load);

  async function advise() {
    const place = byId("advice");
    place.replaceChildren(make("p", { className: "quiet", text: "Working it out…" }));
    let said;
    try {
      const response = await hostFetch(`/api/pace/locomotives/${here.id}/advice`, { method: "GET" });
      said = await response.json();
      if (!response.ok) return place.replaceChildren(make("p", { className: "notice", text: sentence(said.error) }));
    } catch {
      return place.replaceChildren(make("p", { className: "notice", text: "The screen could not be reached." }));
    }
    place.replaceChildren(adviceOf(said.advice, said.locomotive));
    byId("stop-cv4").value = String(said.advice.braking.cv);
    return show(byId("stop-form"), true);
  }

  return {
    load,
    passed(speeds) {
      const newest = speeds[0]?.t_us ?? 0;
      const fresh = newest > seen && seen > 0;
      const first = seen === 0;
      seen = Math.max(newest, seen) || 1;
      if (!waiting || first || !fresh) return;
      wait(false);
      keep({ passed: { t_us: speeds[0].t_us, at: speeds[0].at } });
    },
  };
}
