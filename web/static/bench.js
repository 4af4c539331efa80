// The bench: every contact and every output, and hands and orders.

import { asking } from "./asking.js";
import { keyed, make, setData, setText, show } from "./dom.js";
import { small } from "./glyphs.js";
import { follow } from "./page.js";
import { drawer } from "./dom.js";

const byId = (id) => document.getElementById(id);
const HANDS = [["make", "Make", true], ["break", "Break", false], ["lose", "Cut wire", null]];
const ORDERS = [
  ["ask", "Ask"], ["release", "Release"], ["hold", "Not yet"], ["hand-back", "Hand back"], ["work-done", "Work done"],
];
const SHOWS = {
  steady: "lit, steady", flashing: "lit, flashing", off: "off", drawn: "drawn: may be unlocked", shut: "shut: held", on: "on", unknown: "unknown: treat as off",
};
const LIT = new Set(["steady", "flashing", "drawn", "on"]);

const drawContacts = keyed(byId("contacts"), (thing) => createGroup(thing, createContact));
const drawOutputs = keyed(byId("output-groups"), (thing) => createGroup(thing, createOutput));
const drawOrders = keyed(byId("orders"), createOrders);

function tell(text) {
  setText(byId("bench-notice"), text);
  show(byId("bench-notice"), Boolean(text));
}

function draw(stream) {
  const { head, contacts = {}, outputs = {}, spurs = [] } = stream.state;
  const allowed = byId("hands-note").dataset.hands === "yes";
  const hands = stream.live && head.simulated && allowed;
  setData(document.body, "hands", hands ? "yes" : "no");
  setText(byId("hands-note"), handsText(head, allowed, stream.live));
  drawContacts(grouped(contacts).map(([id, group]) => [id, { ...group, hands, live: stream.live }]));
  drawOutputs(grouped(outputs).map(([id, group]) => [id, { ...group, live: stream.live }]));
  drawOrders(spurs.map((spur) => [spur.id, { spur, live: stream.live }]));
}

function handsText(head, allowed, live) {
  if (!head.simulated) return "These contacts are real: they can be read here, not moved.";
  if (!allowed) return "This screen was started without hands: contacts can be read here, not moved.";
  if (!live) return "Simulated contacts. Hands rest until the engine answers.";
  return "Simulated contacts: make or break them by hand. A made contact is a closed circuit.";
}

function grouped(table) {
  const groups = new Map();
  for (const item of Object.values(table)) {
    if (!groups.has(item.thing)) groups.set(item.thing, { name: item.thing_name, items: [] });
    groups.get(item.thing).items.push(item);
  }
  return [...groups];
}

function createGroup(thing, create) {
  const name = make("h3");
  const list = make("ul", { className: "plain" });
  const element = make("section", { className: "group", data: { thing } }, make("header", {}, name, make("code", { text: thing })), list);
  const drawItems = keyed(list, create);
  return {
    element,
    update({ name: text, items, hands, live }) {
      setText(name, text);
      drawItems(items.map((item) => [item.name, { item, hands, live }]));
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
    setText(parts.role, item.role);
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
    setText(parts.output, item.output);
    setText(parts.says, SHOWS[shows] ?? shows);
    setText(parts.pin, item.inverted ? `${item.pin}, inverted` : item.pin);
  }
  return { element, update };
}

function createOrders(spur) {
  const name = make("h3");
  const buttons = ORDERS.map(([command, text]) => {
    const button = make("button", { type: "button", text, data: { command, spur } });
    return asking(button, "/api/orders", { command, spur }, tell);
  });
  const cars = make("input", { type: "number", min: "1", max: "500", value: "3", inputmode: "numeric", id: `cars-${spur}` });
  const test = make("button", { type: "button", text: "Start brake test", data: { command: "start-brake-test", spur } });
  asking(test, "/api/orders", () => ({ command: "start-brake-test", spur, cars: Number(cars.value) }), tell);
  const element = make(
    "section", { className: "group orders", data: { spur } }, make("header", {}, name, make("code", { text: spur })),
    make("div", { className: "order-buttons" }, ...buttons, make("label", { for: `cars-${spur}` }, "Cars", cars), test),
  );
  function update({ spur: { name: text }, live }) {
    setText(name, text);
    for (const button of element.querySelectorAll("button")) button.disabled = !live;
  }
  return { element, update };
}

follow(draw);
