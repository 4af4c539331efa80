// One contact of the bench: how it stands, how it fares, its trace and its bounces.

import { asking } from "./asking.js";
import { createGaps, createScope } from "./bench_scope.js";
import { drawer, make, setData, setText, show } from "./dom.js";
import { small } from "./glyphs.js";
import { countText, spanText } from "./words.js";

const HANDS = [["make", "Make", true], ["break", "Break", false], ["lose", "Cut wire", null]];
const HEALTH_GLYPH = { fine: "done", settling: "wait", chattering: "wire", lost: "alarm", unknown: "unknown" };
const UNHEARD = { state: "unknown", says: "not known yet" };

export function createContact(name, tell) {
  const span = (className) => make("span", { className });
  const parts = {
    glyph: span("contact-glyph"), role: make("b", { className: "role" }), says: span("says"),
    health: span("health"), healthGlyph: span("health-glyph"), healthSays: span("health-says"),
    label: make("code", { className: "label" }), pin: span("pin"), raw: span("raw"), edges: span("edges"), since: span("since"),
    hands: make("div", { className: "hands" }), signal: make("div", { className: "signal" }),
  };
  const [scope, gaps] = [createScope(), createGaps()];
  parts.signal.append(scope.element, gaps.element);
  parts.health.append(parts.healthGlyph, parts.healthSays);
  const buttons = HANDS.map(([hand, text, made]) => {
    const button = make("button", { type: "button", text, data: { hand }, "aria-label": `${text} ${name}` });
    asking(button, "/api/hands", { contact: name, made }, tell);
    return [made, button];
  });
  parts.hands.append(...buttons.map(([, button]) => button));
  const element = make(
    "li", { className: "contact", data: { contact: name } }, parts.glyph,
    make("div", { className: "contact-words" }, parts.role, parts.says, parts.health),
    make("div", { className: "contact-facts" }, parts.label, parts.pin, parts.raw, parts.edges, parts.since), parts.hands, parts.signal,
  );
  const drawGlyph = drawer((state) => parts.glyph.replaceChildren(small(state)));
  const drawHealth = drawer((state) => parts.healthGlyph.replaceChildren(small(HEALTH_GLYPH[state] ?? "unknown")));
  let seen = null;

  function update({ item, hands, live, details }) {
    const detail = live ? details?.contacts[name] : null;
    const settled = live ? stateOf(item.settled) : "unknown";
    setData(element, "settled", settled);
    setData(element, "raw", stateOf(item.raw));
    drawGlyph(settled);
    setText(parts.role, `${item.thing_name} · ${item.role}`);
    setText(parts.says, live ? item.says : "unknown: treat as unsafe");
    setText(parts.label, item.label);
    setText(parts.pin, item.inverted ? `${item.pin}, inverted` : item.pin);
    setText(parts.raw, `raw ${rawText(item.raw)}`);
    setText(parts.edges, countText(item.edges, "edge", "edges"));
    show(parts.hands, Boolean(hands));
    for (const [made, button] of buttons) button.setAttribute("aria-pressed", String(item.raw === made));
    const health = detail?.health ?? UNHEARD;
    setData(element, "health", health.state);
    drawHealth(health.state);
    setText(parts.healthSays, health.says);
    show(parts.signal, Boolean(detail));
    seen = detail ? { last: detail.trace.at(-1)?.[0] ?? null, head: details.head } : null;
    if (!detail) return;
    scope.draw(detail);
    gaps.draw({ ...detail, buckets: details.head.buckets_us });
  }

  function tick(now) {
    setText(parts.since, now === null || seen === null ? "" : sinceText(seen, now));
  }
  return { element, update, tick };
}

function sinceText({ last, head }, now) {
  if (last !== null) return `changed ${spanText(now - last)} ago`;
  if (head.whole) return "no change this session";
  return head.since_us === null ? "" : `no change for more than ${spanText(now - head.since_us)}`;
}

function stateOf(value) {
  if (value === null) return "unknown";
  return value ? "made" : "broken";
}

function rawText(value) {
  if (value === null) return "lost";
  return value ? "made" : "open";
}
