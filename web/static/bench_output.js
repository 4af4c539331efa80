// One output of the bench: what it shows, and the host's hand at it.

import { asking } from "./asking.js";
import { drawer, make, setData, setText, show } from "./dom.js";
import { small } from "./glyphs.js";
import { spanText } from "./words.js";

const SHOWS = {
  steady: "lit, steady", flashing: "lit, flashing", off: "off", drawn: "drawn: may be unlocked", shut: "shut: held", on: "on", unknown: "unknown: treat as off",
};
const LIT = new Set(["steady", "flashing", "drawn", "on"]);

export function createOutput(name, tell) {
  const span = (className) => make("span", { className });
  const parts = {
    glyph: span("output-glyph"), role: make("b", { className: "role" }), says: span("says"), rules: span("rules"),
    label: make("code", { className: "label" }), pin: span("pin"), worked: make("p", { className: "worked", hidden: "" }), left: span("left"),
    buttons: make("div", { className: "hand-buttons" }), whys: make("div", { className: "whys quiet" }),
  };
  const handGlyph = span("worked-glyph");
  handGlyph.append(small("hand"));
  parts.worked.append(handGlyph, parts.left);
  const back = asking(make("button", { type: "button", text: "Take the hand off", data: { byHand: "back" } }), "/api/bench/outputs", { output: name, shows: "back" }, tell);
  const switchOf = make("details", { className: "hand-switch" }, make("summary", { text: "Work by hand" }), parts.buttons, back, parts.whys);
  const element = make(
    "li", { className: "output", data: { output: name } }, parts.glyph,
    make("div", { className: "contact-words" }, parts.role, parts.says, parts.rules),
    make("div", { className: "contact-facts" }, parts.label, parts.pin), parts.worked, switchOf,
  );
  const buttons = new Map();
  const drawWhys = drawer((whys) => parts.whys.replaceChildren(...whys.map((text) => make("p", { text }))));
  let until = null;

  function buttonOf({ command, says }) {
    const button = make("button", { type: "button", text: says, data: { byHand: command } });
    return asking(button, "/api/bench/outputs", { output: name, shows: command }, tell);
  }

  function drawSwitch({ called, choices }, hand) {
    switchOf.querySelector("summary").setAttribute("aria-label", `Work by hand: ${called}`);
    back.setAttribute("aria-label", `Take the hand off: ${called}`);
    for (const choice of choices) {
      if (!buttons.has(choice.command)) {
        buttons.set(choice.command, buttonOf(choice));
        parts.buttons.append(buttons.get(choice.command));
      }
      const button = buttons.get(choice.command);
      const again = hand?.shows === choice.command;
      button.disabled = Boolean(choice.why);
      button.setAttribute("aria-pressed", String(again));
      setText(button, again ? "60 s more" : choice.says);
      button.setAttribute("aria-label", again ? `60 s more: ${called} ${hand.says}` : `${choice.says}: ${called}`);
    }
    const whys = choices.filter((choice) => choice.why).map(({ says, why }) => `${says}: not now; ${why}.`);
    drawWhys(whys.length ? whys : ["Lasts 60 s, and every page says so meanwhile."]);
  }

  function update({ item, live, details, byHand }) {
    const hand = live ? (byHand[name] ?? null) : null;
    const rules = live ? item.shows : "unknown";
    const shows = hand ? hand.shows : rules;
    setData(element, "shows", shows);
    setData(element, "lit", LIT.has(shows) ? "yes" : "no");
    setData(element, "byHand", hand ? "yes" : "no");
    setText(parts.role, `${item.thing_name} · ${item.output}`);
    setText(parts.says, SHOWS[shows] ?? shows);
    setText(parts.rules, hand ? `by the rules: ${SHOWS[rules] ?? rules}` : "");
    setText(parts.label, item.label);
    setText(parts.pin, item.inverted ? `${item.pin}, inverted` : item.pin);
    show(parts.worked, hand !== null);
    show(back, hand !== null);
    until = hand ? { us: hand.until_us, whence: hand.whence } : null;
    const detail = live ? details?.outputs[name] : null;
    show(switchOf, Boolean(detail));
    if (detail) drawSwitch(detail, hand);
  }

  function tick(now) {
    if (!until) return;
    const left = now === null ? "" : `, ${spanText(Math.max(0, until.us - now))} left`;
    setText(parts.left, `By hand${left}, by the host at ${until.whence}`);
  }
  return { element, update, tick };
}
