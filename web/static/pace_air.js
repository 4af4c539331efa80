// A brake test worked out beforehand, with its gauge over time.

import { make } from "./dom.js";
import { sentence } from "./jobs-asking.js";
import { numberIn, submitting } from "./pace_forms.js";

const byId = (id) => document.getElementById(id);
const SPACE = "http://www.w3.org/2000/svg";

export function startAir() {
  byId("air-miles").dataset.zero = "yes";
  const say = (text) => byId("air-answer").replaceChildren(make("p", { className: "notice", text }));
  submitting(byId("air-form"), say, async () => {
    const asked = new URLSearchParams({ cars: numberIn("air-cars"), miles: numberIn("air-miles"), work: byId("air-work").value });
    try {
      const response = await fetch(`/api/pace/air?${asked}`);
      const said = await response.json();
      if (!response.ok) return say(sentence(said.error));
      return byId("air-answer").replaceChildren(answerOf(said));
    } catch {
      return say("The screen could not be reached.");
    }
  });
}

function answerOf(said) {
  return make(
    "div", { className: "advice" },
    make("h4", { text: `${said.test} test, ${said.source}` }),
    make("ul", {}, ...said.asks.map((text) => make("li", { text }))),
    make("p", { text: `At ${said.clock_ratio}:1 it takes ${said.real_s.toFixed(0)} s of real time: ${said.charge_s.toFixed(0)} s charging, ${said.leak_s.toFixed(0)} s for leaks, ${said.walk_s.toFixed(0)} s walking the train. By the layout's clock that is ${said.layout_minutes} minutes.` }),
    gaugeOf(said),
    make("p", { className: "quiet", text: "The published text is for real railroads and stands here for what it says; nothing on a layout has to meet it. The times are a model." }),
  );
}

function gaugeOf(said) {
  const last = said.gauge.at(-1)[0] || 1;
  const x = (at) => 46 + (582 * at) / last;
  const y = (psi) => 262 - (238 * psi) / said.source_psi;
  const label = `Rear gauge from 0, ${said.charge_psi} psi after ${said.charge_s.toFixed(0)} s`;
  const svg = shape("svg", { viewBox: "0 0 640 300", class: "curve", role: "img", "aria-label": label });
  svg.append(
    shape("polyline", { class: "axis", points: "46,16 46,262 628,262" }),
    shape("polyline", { class: "wanted", points: `46,${y(said.charge_psi)} ${x(said.charge_s)},${y(said.charge_psi)} ${x(said.charge_s)},262` }),
    shape("polyline", { class: "forward", points: said.gauge.map(([at, psi]) => `${x(at).toFixed(1)},${y(psi).toFixed(1)}`).join(" ") }),
    words(40, y(said.charge_psi) + 4, said.charge_psi, "end"), words(40, y(said.source_psi) + 4, said.source_psi, "end"), words(40, 262, 0, "end"),
    words(x(said.charge_s), 288, `${said.charge_s.toFixed(0)} s`, "middle"), words(54, 18, "rear gauge, psi", "start"),
  );
  return svg;
}

function shape(name, attributes) {
  const element = document.createElementNS(SPACE, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  return element;
}

function words(x, y, text, anchor) {
  const element = shape("text", { x, y, "text-anchor": anchor });
  element.textContent = String(text);
  return element;
}
