// The parts of the commissioning page: contacts, findings, stands, outputs and records.

import { make } from "./dom.js";
import { small } from "./glyphs.js";

const LEVELS = { true: ["made", "made"], false: ["broken", "not made"], null: ["unknown", "can't be read"] };

export function levelItem([name, made]) {
  const [glyph, word] = LEVELS[String(made)];
  return make("li", { className: "level", data: { contact: name, made: String(made) } }, small(glyph), make("span", { text: name }), make("b", { text: word }));
}

export function findingItem({ kind, text, do: mend }) {
  return make(
    "li", { className: "finding", data: { kind } },
    small("alarm"),
    make("div", {}, make("p", {}, make("b", { className: "kind", text: kind }), " ", make("span", { text })), make("p", { className: "quiet", text: mend })),
  );
}

export function standItem({ name, contacts, outputs }, over, repeat) {
  const of = contacts.length + outputs.length;
  const item = make("li", { className: "stand-item", data: { stand: name, over: over === of ? "yes" : "no" } }, make("span", { className: "stand-name", text: name }), make("span", { className: "quiet", text: `${over} of ${of}` }));
  if (repeat && over > 0) {
    const again = make("button", { type: "button", className: "plain-button", text: "Repeat", "aria-label": `Repeat ${name}` });
    again.addEventListener("click", () => repeat(name));
    item.append(again);
  }
  return item;
}

export function outputBoxes(stands) {
  return stands.flatMap(({ outputs }) => outputs).map((name, place) => {
    const box = make("input", { type: "checkbox", id: `output-${place}`, value: name });
    return make("label", { className: "output-box" }, box, make("span", { text: name }));
  });
}

export function recordItem({ id, layout, simulated, date, by_whom: by, condition_left: left, due, overdue }) {
  const title = `Commissioning ${id}: ${layout}${simulated ? " (simulated pins)" : ""}`;
  return make(
    "li", { className: "record" },
    make("a", { href: `/commission/records/${id}`, text: title }),
    make("span", { text: `${date}, by ${by}: ${left}` }),
    make("span", { className: overdue ? "overdue" : "quiet", text: overdue ? `The next was due on ${due}` : `Next due ${due}` }),
  );
}
