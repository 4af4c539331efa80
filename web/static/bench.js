// The bench: every contact and every output, and hands and orders.

import { asking } from "./asking.js";
import { drawer, keyed, make, setData, setText, show } from "./dom.js";
import { small } from "./glyphs.js";
import { follow } from "./page.js";

const byId = (id) => document.getElementById(id);
const HANDS = [["make", "Make", true], ["break", "Break", false], ["lose", "Cut wire", null]];
const ORDERS = [
  ["ask", "Ask"], ["release", "Release"], ["hold", "Not yet"], ["hand-back", "Hand back"], ["work-done", "Work done"],
];
const SHOWS = {
  steady: "lit, steady", flashing: "lit, flashing", off: "off", drawn: "drawn: may be unlocked", shut: "shut: held", on: "on", unknown: "unknown: treat as off",
};
const LIT = new Set(["steady", "flashing", "drawn", "on"]);

const KEY_BOARD = "key-board";
const drawGroups = keyed(byId("groups"), createGroup);

function tell(text) {
  setText(byId("bench-notice"), text);
  show(byId("bench-notice"), Boolean(text));
}

function draw(stream) {
  const { head } = stream.state;
  const allowed = byId("hands-note").dataset.hands === "yes";
  const hands = stream.live && head.simulated && allowed;
  setData(document.body, "hands", hands ? "yes" : "no");
  setText(byId("hands-note"), handsText(head, allowed, stream.live));
  drawGroups(grouped(stream.state).map(([id, group]) => [id, { ...group, hands, live: stream.live }]));
}

function handsText(head, allowed, live) {
  if (!head.simulated) return "These contacts are real: they can be read here, not moved.";
  if (!allowed) return "This screen was started without hands: contacts can be read here, not moved.";
  if (!live) return "Simulated contacts. Hands rest until the engine answers.";
  return "Simulated contacts: make or break them by hand. A made contact is a closed circuit.";
}

// One group for each row of the board, then the key board.
function grouped({ rows = {}, contacts = {}, outputs = {} }) {
  const groups = new Map();
  for (const row of Object.values(rows)) {
    groups.set(row.id, { name: row.name, spur: row.spur, contacts: [], outputs: [] });
  }
  groups.set(KEY_BOARD, { name: "Key board", spur: false, contacts: [], outputs: [] });
  for (const item of Object.values(contacts)) groups.get(item.row || KEY_BOARD).contacts.push(item);
  for (const item of Object.values(outputs)) groups.get(item.row || KEY_BOARD).outputs.push(item);
  return [...groups].filter(([, { contacts: some }]) => some.length);
}

function createGroup(id) {
  const name = make("h3");
  const contacts = make("ul", { className: "plain" });
  const outputs = make("ul", { className: "plain outputs" });
  const orders = make("div", { className: "orders", hidden: "" });
  const element = make(
    "section", { className: "group", data: { group: id } },
    make("header", {}, name, make("code", { text: id })), contacts, outputs, orders,
  );
  const drawContacts = keyed(contacts, createContact);
  const drawOutputs = keyed(outputs, createOutput);
  return {
    element,
    update(group) {
      setText(name, group.name);
      drawContacts(group.contacts.map((item) => [item.name, { item, ...group }]));
      drawOutputs(group.outputs.map((item) => [item.name, { item, ...group }]));
      show(outputs, group.outputs.length > 0);
      if (group.spur && !orders.children.length) orders.append(...orderButtons(id));
      show(orders, group.spur);
      for (const button of orders.querySelectorAll("button")) button.disabled = !group.live;
    },
  };
}

function createContact(name) {
  const parts = {
    role: make("b", { className: "role" }), says: make("span", { className: "says" }), pin: make("span", { className: "pin" }),
    raw: make("span", { className: "raw" }), edges: make("span", { className: "edges" }), faults: make("span", { className: "fault-words" }),
    hands: make("div", { className: "hands" }), glyph: make("span", { className: "contact-glyph" }),
  };
  const buttons = HANDS.map(([hand, text, made]) => {
    const button = make("button", { type: "button", text, data: { hand }, "aria-label": `${text} ${name}` });
    asking(button, "/api/hands", { contact: name, made }, tell);
    return [made, button];
  });
  parts.hands.append(...buttons.map(([, button]) => button));
  const element = make(
    "li", { className: "contact", data: { contact: name } }, parts.glyph, make("div", { className: "contact-words" }, parts.role, parts.says, parts.faults),
    make("div", { className: "contact-facts" }, parts.pin, parts.raw, parts.edges), parts.hands,
  );
  const drawGlyph = drawer((state) => parts.glyph.replaceChildren(small(state)));

  function update({ item, hands, live }) {
    const settled = live ? stateOf(item.settled) : "unknown";
    setData(element, "settled", settled);
    setData(element, "raw", stateOf(item.raw));
    drawGlyph(settled);
    setText(parts.role, `${item.thing_name} · ${item.role}`);
    setText(parts.says, live ? item.says : "unknown: treat as unsafe");
    setText(parts.pin, item.inverted ? `${item.pin}, inverted` : item.pin);
    setText(parts.raw, `raw ${rawText(item.raw)}`);
    setText(parts.edges, item.edges === 1 ? "1 edge" : `${item.edges} edges`);
    setText(parts.faults, item.faults.join(", "));
    show(parts.hands, Boolean(hands));
    for (const [made, button] of buttons) button.setAttribute("aria-pressed", String(item.raw === made));
  }
  return { element, update };
}

function stateOf(value) {
  if (value === null) return "unknown";
  return value ? "made" : "broken";
}

function rawText(value) {
  if (value === null) return "lost";
  return value ? "made" : "open";
}

function createOutput(name) {
  const parts = { glyph: make("span", { className: "output-glyph" }), output: make("b", { className: "role" }), says: make("span", { className: "says" }), pin: make("span", { className: "pin" }) };
  const element = make(
    "li", { className: "output", data: { output: name } }, parts.glyph, make("div", { className: "contact-words" }, parts.output, parts.says), make("div", { className: "contact-facts" }, parts.pin),
  );
  function update({ item, live }) {
    const shows = live ? item.shows : "unknown";
    setData(element, "shows", shows);
    setData(element, "lit", LIT.has(shows) ? "yes" : "no");
    setText(parts.output, `${item.thing_name} · ${item.output}`);
    setText(parts.says, SHOWS[shows] ?? shows);
    setText(parts.pin, item.inverted ? `${item.pin}, inverted` : item.pin);
  }
  return { element, update };
}

function orderButtons(spur) {
  const buttons = ORDERS.map(([command, text]) => {
    const button = make("button", { type: "button", text, data: { command, spur } });
    return asking(button, "/api/orders", { command, spur }, tell);
  });
  const cars = make("input", { type: "number", min: "1", max: "500", value: "3", inputmode: "numeric", id: `cars-${spur}` });
  const test = make("button", { type: "button", text: "Brake test", data: { command: "start-brake-test", spur } });
  asking(test, "/api/orders", () => ({ command: "start-brake-test", spur, cars: Number(cars.value) }), tell);
  return [...buttons, make("span", { className: "brake-test" }, test, make("label", { for: `cars-${spur}` }, "cars"), cars)];
}

follow(draw);
