// A contact's last edges as a trace, and the gaps within its bounces as a histogram.

import { drawer, make, setText, show } from "./dom.js";
import { countText, spanText } from "./words.js";

const SPACE = "http://www.w3.org/2000/svg";
const [WIDE, HIGH] = [400, 40];
const LEVEL = new Map([[true, 6], [null, 20], [false, 34]]);
const LEAD = 14; // How the contact stood before the first edge and stands after the last.

export function createScope() {
  const svg = shape("svg", { viewBox: `0 0 ${WIDE} ${HIGH}`, preserveAspectRatio: "none", class: "scope-trace", role: "img" });
  const caption = make("figcaption");
  const element = make("figure", { className: "scope" }, svg, caption);
  const draw = drawer(({ trace, before }) => {
    svg.replaceChildren(...lines(trace, before));
    const said = traceSays(trace);
    svg.setAttribute("aria-label", `Trace: ${said}`);
    setText(caption, said);
  });
  return { element, draw };
}

function traceSays(trace) {
  if (!trace.length) return "no edge this session";
  if (trace.length === 1) return "1 edge";
  const gaps = trace.slice(1).map(([us], place) => us - trace[place][0]);
  const span = trace.at(-1)[0] - trace[0][0];
  return `last ${trace.length} edges in ${gapText(span)}; shortest gap ${gapText(Math.min(...gaps))}`;
}

// Gaps are drawn by their logarithm: a bounce of a millisecond and a pause of minutes both show.
function lines(trace, before) {
  const sizes = trace.map(([us], place) => (place ? Math.log10(1 + (us - trace[place - 1][0]) / 100) + 0.15 : 0));
  const scale = (WIDE - 2 * LEAD) / (sizes.reduce((sum, size) => sum + size, 0) || 1);
  const parts = [];
  let [x, level] = [0, before];
  let known = "";
  const run = (to) => {
    const y = LEVEL.get(level);
    if (level === null) parts.push(shape("path", { d: `M${x} ${y}H${to}`, class: "scope-unknown" }));
    else known += `M${x} ${y}H${to}`;
    x = to;
  };
  for (const [place, [, made]] of trace.entries()) {
    run(place ? round(x + sizes[place] * scale) : LEAD);
    known += `M${x} ${LEVEL.get(level)}V${LEVEL.get(made)}`;
    level = made;
  }
  run(WIDE);
  return [shape("path", { d: known, class: "scope-line" }), ...parts];
}

export function createGaps() {
  const bars = make("ol", { className: "plain gap-bars", "aria-hidden": "true" });
  const words = make("p", { className: "unseen" });
  const caption = make("figcaption");
  const element = make("figure", { className: "gaps" }, bars, words, caption);
  const draw = drawer(({ gaps, bounces, longest_us: longest, settle_us: settle, buckets }) => {
    show(bars, bounces > 0);
    bars.replaceChildren(...(bounces ? gaps.map((count, place) => bar(count, Math.max(...gaps), labelOf(buckets, place))) : []));
    const told = gaps.map((count, place) => (count ? `${count} ${rangeText(buckets, place)}` : "")).filter(Boolean);
    setText(words, told.length ? `Gaps within bounces: ${told.join(", ")}.` : "");
    const fits = `settle time ${gapText(settle)}`;
    setText(caption, bounces ? `${countText(bounces, "bounce", "bounces")}, longest ${gapText(longest)}; ${fits}; gaps in ms` : `no bounce; ${fits}`);
  });
  return { element, draw };
}

function bar(count, most, label) {
  const fill = make("span", { className: "gap-fill" });
  fill.style.height = `${count ? Math.max(8, (100 * count) / most) : 0}%`;
  return make("li", {}, make("span", { className: "gap-room" }, fill), make("span", { className: "gap-label", text: label }));
}

const ms = (us) => String(us / 1000);

function labelOf(buckets, place) {
  return place < buckets.length ? `<${ms(buckets[place])}` : `${ms(buckets.at(-1))}+`;
}

function rangeText(buckets, place) {
  if (place === 0) return `under ${ms(buckets[0])} ms`;
  if (place === buckets.length) return `of ${ms(buckets.at(-1))} ms and more`;
  return `of ${ms(buckets[place - 1])} to ${ms(buckets[place])} ms`;
}

function gapText(us) {
  if (us >= 10e6) return spanText(us);
  if (us >= 1e6) return `${(us / 1e6).toFixed(1)} s`;
  return `${us < 10_000 ? (us / 1000).toFixed(1) : Math.round(us / 1000)} ms`;
}

function round(value) {
  return Math.round(value * 10) / 10;
}

function shape(tag, attributes) {
  const element = document.createElementNS(SPACE, tag);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  return element;
}
