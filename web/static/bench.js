// The bench: every contact and every output, stand by stand, and hands and orders.

import { asking } from "./asking.js";
import { createContact } from "./bench_contact.js";
import { createOutput } from "./bench_output.js";
import { drawer, keyed, make, setData, setText, show } from "./dom.js";
import { follow } from "./page.js";

const byId = (id) => document.getElementById(id);
const ORDERS = [
  ["ask", "Ask"], ["release", "Release"], ["hold", "Not yet"], ["hand-back", "Hand back"], ["work-done", "Work done"],
];
const KEY_BOARD = "key-board";

const drawGroups = keyed(byId("groups"), createGroup);
const stands = byId("stand");
const drawStands = drawer((all) => {
  stands.replaceChildren(make("option", { value: "", text: "All stands" }), ...all.map(([id, name]) => make("option", { value: id, text: name })));
  choose(decodeURIComponent(location.hash.slice(1)));
});
let groups = new Map();

function tell(text) {
  setText(byId("bench-notice"), text);
  show(byId("bench-notice"), Boolean(text));
}

function draw(stream) {
  const { head, by_hand: byHand = {} } = stream.state;
  const allowed = byId("hands-note").dataset.hands === "yes";
  const hands = stream.live && head.simulated && allowed;
  setData(document.body, "hands", hands ? "yes" : "no");
  setText(byId("hands-note"), handsText(head, allowed, stream.live));
  // They are drawn one after the other: those of another session are not of this one.
  const details = stream.bench?.head.session === head.session ? stream.bench : null;
  const all = grouped(stream.state);
  groups = drawGroups(all.map(([id, group]) => [id, { ...group, hands, live: stream.live, details, byHand }]));
  drawStands(all.map(([id, group]) => [id, group.name]));
  filter();
  tick(stream);
}

function tick(stream) {
  const now = stream.live ? stream.now() : null;
  for (const group of groups.values()) group.tick(now);
}

function handsText(head, allowed, live) {
  if (!head.simulated) return "These contacts are real: they can be read here, not moved.";
  if (!allowed) return "This screen was started without hands: contacts can be read here, not moved.";
  if (!live) return "Simulated contacts. Hands rest until the engine answers.";
  return "Simulated contacts: make or break them by hand. A made contact is a closed circuit.";
}

// One group for each row of the board, then the key board.
function grouped({ rows = {}, contacts = {}, outputs = {} }) {
  const found = new Map();
  for (const row of Object.values(rows)) {
    found.set(row.id, { name: row.name, spur: row.spur, contacts: [], outputs: [] });
  }
  found.set(KEY_BOARD, { name: "Key board", spur: false, contacts: [], outputs: [] });
  for (const item of Object.values(contacts)) found.get(item.row || KEY_BOARD).contacts.push(item);
  for (const item of Object.values(outputs)) found.get(item.row || KEY_BOARD).outputs.push(item);
  return [...found].filter(([, { contacts: some }]) => some.length);
}

// The stand that is looked at is in the address, so that a link or a reload leads to it again.
function choose(stand) {
  stands.value = stand;
  if (stands.selectedIndex < 0) stands.value = "";
  filter();
}

function filter() {
  const wanted = stands.value;
  for (const [id, { element }] of groups) show(element, !wanted || id === wanted);
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
  const drawContacts = keyed(contacts, (key) => createContact(key, tell));
  const drawOutputs = keyed(outputs, (key) => createOutput(key, tell));
  let kept = [];
  return {
    element,
    update({ contacts: some, outputs: others, ...group }) {
      setText(name, group.name);
      const drawnContacts = drawContacts(some.map((item) => [item.name, { item, ...group }]));
      const drawnOutputs = drawOutputs(others.map((item) => [item.name, { item, ...group }]));
      kept = [...drawnContacts.values(), ...drawnOutputs.values()];
      show(outputs, others.length > 0);
      if (group.spur && !orders.children.length) orders.append(...orderButtons(id));
      show(orders, group.spur);
      for (const button of orders.querySelectorAll("button")) button.disabled = !group.live;
    },
    tick: (now) => kept.forEach((item) => item.tick(now)),
  };
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

stands.addEventListener("change", () => {
  history.replaceState(null, "", stands.value ? `#${encodeURIComponent(stands.value)}` : location.pathname);
  filter();
});
addEventListener("hashchange", () => choose(decodeURIComponent(location.hash.slice(1))));
follow(draw, tick, { bench: true });
