// The settings for a locomotive, its curve, and how it will stop.

import { make } from "./dom.js";
import { inches } from "./pace_forms.js";

const SPACE = "http://www.w3.org/2000/svg";
const WIDE = 640;
const HIGH = 300;
const LEFT = 46;
const LOW = 262;

export function adviceOf(advice, locomotive) {
  const { settings, braking, away } = advice;
  const five = [["CV2", "start", settings.start], ["CV6", "middle", settings.middle], ["CV5", "top", settings.top], ["CV3", "getting away", away.cv], ["CV4", "braking", braking.cv]];
  return make(
    "div", { className: "advice" },
    make("p", { text: `Full throttle will be ${settings.top_mph.toFixed(1)} scale mph. It can do ${(advice.everyday_mph * 2).toFixed(0)}; half of that, ${advice.everyday_mph.toFixed(0)}, is common practice for a local.` }),
    make("dl", { className: "big-five" }, ...five.map(([cv, word, value]) => make("div", {}, make("dt", { text: `${cv}, ${word}` }), make("dd", { text: String(value) })))),
    make("p", { text: `It will stop in ${inches(braking.from_full_mm)} from full speed and ${inches(braking.from_half_mm)} from half, after ${braking.full_seconds.toFixed(1)} s.` }),
    make("p", { className: "quiet", text: correctionSays(advice, locomotive) }),
    braking.coarse ? make("p", { className: "notice", text: "Settings are whole numbers, and this is the nearest they come to the stop that is wanted. A lower top speed leaves finer ones." }) : null,
    curveOf(advice),
    make("details", { className: "fold" }, make("summary", { text: "The 28 entries of the table" }), tableOf(advice)),
    advice.again.length ? make("p", { className: "quiet", text: `More passes at step ${advice.again.join(" and ")}, each way, would make the top speed surer.` }) : null,
    make("p", {}, make("a", { className: "button plain-button", href: locomotive.card, text: "Card to print" })),
  );
}

function correctionSays({ correction }, locomotive) {
  if (!locomotive.stop) return "Foretold by NMRA S-9.2.2, which leaves makers free here. Measure one stop below, and it is corrected.";
  const slow = Math.round((correction.factor - 1) * 100);
  return `Corrected by the measured stop: its timing counts ${slow >= 0 ? "+" : ""}${slow} %, and it runs on for ${correction.run_on_s.toFixed(2)} s.`;
}

function tableOf({ settings, table_mph: mph }) {
  const items = settings.table.map((level, at) => make("li", {}, make("span", { text: `CV${67 + at}` }), make("b", { text: String(level) }), make("span", { text: `${mph[at].toFixed(1)} mph` })));
  return make(
    "div", {},
    make("p", { className: "hint", text: `In place of CV2, CV6 and CV5, with bit 4 of CV29 set. CV66 128 and CV95 ${settings.reverse_trim} make both directions alike, if the decoder has them.` }),
    make("ol", { className: "plain levels" }, ...items),
  );
}

function curveOf({ forward, reverse, settings }) {
  const most = Math.max(forward.most_mph, reverse.most_mph, 1);
  const x = (level) => LEFT + ((WIDE - LEFT - 12) * level) / 255;
  const y = (mph) => LOW - ((LOW - 24) * mph) / most;
  const line = (points) => points.levels.map((level, at) => `${x(level).toFixed(1)},${y(points.mph[at]).toFixed(1)}`).join(" ");
  const label = `Speed by drive level: forward up to ${forward.most_mph.toFixed(0)}, reverse up to ${reverse.most_mph.toFixed(0)} scale mph; it starts at level ${forward.starts_at.toFixed(0)}`;
  const svg = shape("svg", { viewBox: `0 0 ${WIDE} ${HIGH}`, class: "curve", role: "img", "aria-label": label });
  svg.append(
    shape("polyline", { class: "axis", points: `${LEFT},16 ${LEFT},${LOW} ${WIDE - 12},${LOW}` }),
    shape("polyline", { class: "wanted", points: `${LEFT},${y(settings.top_mph)} ${x(settings.top)},${y(settings.top_mph)} ${x(settings.top)},${LOW}` }),
    shape("polyline", { class: "forward", points: line(forward) }),
    shape("polyline", { class: "reverse", points: line(reverse) }),
    words(LEFT - 6, y(most) + 4, most.toFixed(0), "end"), words(LEFT - 6, y(settings.top_mph) + 4, settings.top_mph.toFixed(0), "end"), words(LEFT - 6, LOW, "0", "end"),
    words(LEFT, LOW + 26, "0", "middle"), words(x(settings.top), LOW + 26, String(settings.top), "middle"), words(x(255), LOW + 26, "255", "end"),
    words(LEFT + 8, 18, "scale mph · solid forward, dashed reverse", "start"), words(WIDE - 14, LOW - 8, "drive level", "end"),
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
  element.textContent = text;
  return element;
}
