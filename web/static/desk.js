// The foreman's desk: who waits for the host's answer, across the top of the board until he gives it.

import { asking } from "./asking.js";
import { drawer, keyed, make, setData, setText, show } from "./dom.js";
import { small } from "./glyphs.js";
import { countText, spanText } from "./words.js";

const SETTLES_MS = 800;
const KEYS = ["R", "N"];
const byId = (id) => document.getElementById(id);

export function createDesk(sound) {
  const drawItems = keyed(byId("desk-list"), createItem);
  let items = new Map();
  let first = { spur: "", at: 0 };
  let known = new Set();
  byId("desk-glyph").append(small("hand"));

  function draw(waits) {
    items = drawItems(waits.map((wait, place) => [wait.spur, { wait, place }]));
    show(byId("desk"), waits.length > 0);
    setText(byId("desk-count"), `${countText(waits.length, "waits", "wait")} for the host`);
    const spur = waits[0]?.spur ?? "";
    if (spur !== first.spur) first = { spur, at: performance.now() };
    tellNew(waits);
    return waits.length;
  }

  // Also for who hears the page instead of seeing it; a question that stood already is not new.
  function tellNew(waits) {
    const keys = waits.map((wait) => `${wait.spur} ${wait.word} ${wait.since_us}`);
    const fresh = waits.filter((wait, place) => wait.word !== "held" && !known.has(keys[place]));
    known = new Set(keys);
    if (!fresh.length) return;
    setText(byId("desk-said"), fresh.map((wait) => `${wait.name} ${wait.says}.`).join(" "));
    sound.ring("desk");
  }

  // A key pressed just as another spur comes to be the first is not meant for that one.
  function press(place) {
    const item = items.get(first.spur);
    if (!item) return;
    if (performance.now() - first.at < SETTLES_MS) item.tell("This one has just come first: look, then press again.");
    else item.press(place);
  }

  const tick = (now) => items.forEach((item) => item.tick(now));
  return { draw, tick, press };
}

function createItem(spur) {
  const parts = {
    name: make("b", { className: "wait-name" }),
    says: make("span", { className: "wait-says" }),
    crew: make("span", { className: "wait-crew" }),
    time: make("span", { className: "wait-time" }),
    buttons: make("div", { className: "wait-buttons" }),
    notice: make("p", { className: "wait-notice", role: "status", hidden: "" }),
  };
  const element = make(
    "li", { className: "wait-item", data: { waits: spur } },
    make("p", { className: "wait-words" }, parts.name, " ", parts.says, " ", parts.crew, " ", parts.time),
    parts.buttons, parts.notice,
  );
  let since = null;
  let at = null;
  const tell = (text) => {
    setText(parts.notice, text);
    show(parts.notice, Boolean(text));
  };
  const drawButtons = drawer(({ commands, first }) => {
    parts.buttons.replaceChildren(...commands.map((one, place) => button(spur, one, first ? KEYS[place] : "", tell)));
  });

  function tick(now = at) {
    at = now;
    setText(parts.time, now === null || since === null ? "" : `for ${spanText(now - since)}`);
  }

  function update({ wait, place }) {
    since = wait.since_us;
    setData(element, "word", wait.word);
    setText(parts.name, wait.name);
    setText(parts.says, wait.says);
    setText(parts.crew, wait.crew ? `· ${wait.crew}` : "");
    drawButtons({ commands: wait.commands, first: place === 0 });
    tick();
  }

  const press = (place) => parts.buttons.children[place]?.click();
  return { element, update, tick, tell, press };
}

function button(spur, { command, says }, key, tell) {
  const keys = key ? { "aria-keyshortcuts": key } : {};
  const element = make("button", { type: "button", data: { command, desk: spur }, ...keys }, make("span", { text: says }));
  if (key) element.append(" ", make("kbd", { text: key, "aria-hidden": "true" }));
  return asking(element, "/api/orders", { command, spur }, tell);
}
