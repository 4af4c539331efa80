// What is waited for, as gauges. Each is a drawing with its words and numbers beside it.

import { keyed, make, setData, setText } from "./dom.js";
import { spanText } from "./words.js";

const SPACE = "http://www.w3.org/2000/svg";
const SWEEP = 240; // Degrees of the dial, from its lower left round to its lower right.

export function createGauges(parent) {
  const draw = keyed(parent, (id) => (id === "charging" ? createDial() : createBar()));
  let shown = [];
  let kept = new Map();
  return {
    update(gauges) {
      shown = gauges;
      kept = draw(gauges.map((gauge) => [gauge.id, gauge]));
    },
    tick(now) {
      if (now === null) return;
      for (const gauge of shown) kept.get(gauge.id).tick(gauge, now);
    },
  };
}

function createBar() {
  const fill = shape("rect", { x: 0, y: 0, width: 0, height: 20, class: "bar-fill" });
  const marks = shape("g", {});
  const svg = drawing("0 0 300 20", "bar", shape("rect", { x: 0, y: 0, width: 300, height: 20, class: "bar-back" }), fill, marks);
  svg.setAttribute("preserveAspectRatio", "none");
  const name = make("b", { className: "gauge-name" });
  const value = make("span", { className: "gauge-value" });
  const words = make("p", { className: "gauge-words" });
  const element = make("div", { className: "gauge" }, make("p", { className: "gauge-head" }, name, value), svg, words);
  return {
    element,
    update(gauge) {
      setText(name, gauge.says);
      setData(element, "gauge", gauge.id);
    },
    tick(gauge, now) {
      const { part, state, text, note, at } = reading(gauge, now);
      fill.setAttribute("width", String(Math.round(300 * Math.min(1, Math.max(0, part)))));
      setData(element, "state", state);
      setText(value, text);
      setText(words, note);
      const key = at.join();
      if (marks.dataset.at === key) return;
      marks.dataset.at = key;
      marks.replaceChildren(...at.map((place) => shape("rect", { x: 300 * place - 2, y: 0, width: 4, height: 20, class: "bar-mark" })));
    },
  };
}

// Where a bar stands: its part from 0 to 1, its words, and where its marks are.
function reading(gauge, now) {
  if (gauge.id === "speed") return speed(gauge);
  if (gauge.id === "foreman") return foreman(gauge, now);
  const whole = gauge.until_us - gauge.since_us;
  const left = Math.max(0, gauge.until_us - now);
  const begun = now >= gauge.since_us;
  return {
    part: begun ? 1 - left / whole : 0,
    state: begun ? "runs" : "ahead",
    text: begun ? `${spanText(left + 999_999)} more` : `then ${spanText(whole)}`,
    note: begun ? "Nothing moves; the gauge is watched." : "It begins when the pipe is charged.",
    at: [],
  };
}

function foreman(gauge, now) {
  const since = Math.max(0, now - gauge.since_us);
  const text = `for ${spanText(since)}`;
  if (gauge.latest_us === null) {
    return { part: 1, state: "endless", text, note: "A person answers; how long it takes is not known.", at: [] };
  }
  const whole = gauge.latest_us - gauge.since_us;
  const earliest = gauge.earliest_us - gauge.since_us;
  const late = since > whole;
  const note = late ? "It takes longer than it should. Ask the host." : `He answers after ${spanText(earliest)} to ${spanText(whole)}.`;
  return { part: since / whole, state: late ? "late" : "runs", text, note, at: [earliest / whole] };
}

function speed(gauge) {
  const { mph, limit, over } = gauge;
  const text = `${gauge.speed_says} ${gauge.unit}`;
  const way = gauge.toward ? ` It ran ${gauge.toward}.` : "";
  if (gauge.paused) return { part: 0, state: "fine", text, note: `So slow that it may have paused there.${way}`, at: [] };
  if (limit === null) return { part: mph / 20, state: "fine", text, note: `No limit is set here.${way}`, at: [] };
  const note = over ? `Too fast: the limit is ${gauge.limit_says}. Slow down.` : `Within the limit of ${gauge.limit_says}.`;
  return { part: mph / (1.5 * limit), state: over ? "over" : "fine", text, note: `${note}${way}`, at: [1 / 1.5] };
}

function createDial() {
  const arc = shape("path", { d: arcTo(1), class: "dial-arc" });
  const fill = shape("path", { class: "dial-fill" });
  const needle = shape("path", { d: "M50 52 L50 16", class: "dial-needle" });
  const mark = shape("path", { d: "M50 4 L50 15", class: "dial-mark" });
  const svg = drawing("0 0 100 84", "dial", arc, fill, mark, needle, shape("circle", { cx: 50, cy: 52, r: 5, class: "dial-hub" }));
  const value = make("b", { className: "dial-value" });
  const name = make("b", { className: "gauge-name" });
  const words = make("p", { className: "gauge-words" });
  const element = make("div", { className: "gauge gauge-dial" }, svg, make("div", {}, name, value, words));
  return {
    element,
    update(gauge) {
      setText(name, gauge.says);
      setData(element, "gauge", gauge.id);
      mark.setAttribute("transform", `rotate(${angle(gauge.enough_psi / gauge.source_psi)} 50 52)`);
    },
    tick(gauge, now) {
      const charged = now >= gauge.until_us;
      const t = Math.max(0, Math.min(now, gauge.until_us) - gauge.since_us);
      const psi = gauge.source_psi * (1 - Math.exp(-t / gauge.tau_us));
      const part = psi / gauge.source_psi;
      needle.setAttribute("transform", `rotate(${angle(part)} 50 52)`);
      fill.setAttribute("d", arcTo(part));
      setText(value, `${Math.round(psi)} psi`);
      setData(element, "state", charged ? "full" : "runs");
      setText(words, charged ? "Charged." : `Enough at ${gauge.enough_psi} psi, in ${spanText(gauge.until_us - now + 999_999)}.`);
    },
  };
}

function angle(part) {
  return -SWEEP / 2 + SWEEP * part;
}

function arcTo(part) {
  const at = (degrees) => {
    const radians = ((degrees - 90) * Math.PI) / 180;
    return `${(50 + 40 * Math.cos(radians)).toFixed(2)} ${(52 + 40 * Math.sin(radians)).toFixed(2)}`;
  };
  const large = SWEEP * part > 180 ? 1 : 0;
  return `M${at(angle(0))} A40 40 0 ${large} 1 ${at(angle(part))}`;
}

function drawing(box, className, ...shapes) {
  const svg = shape("svg", { viewBox: box, class: className, "aria-hidden": "true" });
  svg.append(...shapes);
  return svg;
}

function shape(tag, attributes) {
  const element = document.createElementNS(SPACE, tag);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, String(value));
  return element;
}
