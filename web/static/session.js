// The session's page: open and close it, the restore check as things stand, and the host's door.

import { ask } from "./asking.js";
import { drawer, keyed, make, setData, setText, show } from "./dom.js";
import { small, thing } from "./glyphs.js";
import { HOST_CHANGE, hostFetch, isHost, refreshHost } from "./host.js";
import { follow } from "./page.js";
import { spanText } from "./words.js";

const CHECK_EVERY_MS = 400;
const CALLS = 10;
const byId = (id) => document.getElementById(id);
const MOMENT = new Intl.DateTimeFormat(undefined, { hour: "2-digit", minute: "2-digit" });
const DAY = new Intl.DateTimeFormat(undefined, {
  weekday: "long", month: "long", day: "numeric", hour: "2-digit", minute: "2-digit",
});

let check = null; // The restore check as it was last heard.
let checked = 0;
let waiting = null;
let busy = false;

const stream = follow(drawState, drawSince);

function drawState(changed) {
  setTimer();
  const head = changed.state.head;
  const opened = changed.live ? (head.opened ? "yes" : "no") : "unknown";
  setData(byId("state"), "opened", opened);
  const asking = !byId("sure").hidden;
  show(byId("open"), opened === "no");
  show(byId("close"), opened === "yes" && !asking);
  if (opened !== "yes") show(byId("sure"), false);
  setText(byId("state-word"), {
    yes: "The session is open",
    no: "Between sessions",
    unknown: head.session === null ? "No engine has written here yet" : "The engine does not answer",
  }[opened]);
  drawSince();
}

function drawSince() {
  const opened = byId("state").dataset.opened;
  if (opened === "unknown") {
    setText(byId("state-says"), "A session can be opened and closed while the engine guards.");
    return;
  }
  const began = check && check.opened === (opened === "yes") ? new Date(check.began_wall_us / 1000) : null;
  const lasted = stream.now();
  const since = began ? `Since ${today(began) ? MOMENT.format(began) : DAY.format(began)}` : "";
  const long = lasted === null ? "" : `${since ? ", for " : "For "}${spanText(lasted)}`;
  const then = opened === "yes"
    ? "Crews' links work until it is closed."
    : "The contacts are guarded all the same; nothing counts as anybody's evening.";
  setText(byId("state-says"), `${since}${long}. ${then}`);
}

function today(moment) {
  return moment.toDateString() === new Date().toDateString();
}

// The check follows what the stream tells, but is never asked for oftener than this.
function setTimer() {
  if (waiting !== null) return;
  const wait = Math.max(0, checked + CHECK_EVERY_MS - performance.now());
  waiting = setTimeout(look, wait);
}

async function look() {
  checked = performance.now();
  waiting = null;
  try {
    const response = await fetch("/api/restore-check");
    if (response.ok) drawCheck((check = await response.json()));
    else drawNothing((await response.json()).error);
  } catch {
    drawNothing("the screen could not be reached");
  }
  drawSince();
}

const drawPlaces = keyed(byId("places"), createPlace);

function drawCheck(now) {
  const clear = now.clear ? "yes" : now.live ? "no" : "unknown";
  setSays(clear, now.says);
  const names = now.looked_at.join(", ");
  setText(byId("restore-hint"), now.clear ? `Looked at: ${names}.` : hint(now));
  drawPlaces(now.live ? now.places.map((place) => [place.id, place]) : []);
  if (!byId("sure").hidden) setText(byId("sure-word"), question(now));
}

function hint(now) {
  if (!now.live) return "What is out can be told again once the engine answers.";
  return "Grouped by where to go. What is put right leaves this list by itself.";
}

function drawNothing(why) {
  setSays("unknown", `Nothing is known: ${why}.`);
  setText(byId("restore-hint"), "");
}

const setSays = (() => {
  const draw = drawer(([clear, says]) => {
    const icon = clear === "yes" ? small("done") : clear === "no" ? small("alarm") : small("unknown");
    byId("restore-says").replaceChildren(icon, make("span", { text: says }));
    setData(byId("restore-says"), "clear", clear);
  });
  return (clear, says) => draw([clear, says]);
})();

function createPlace() {
  const heading = make("h3");
  const list = make("ul", { className: "plain" });
  const element = make("section", { className: "place" }, heading, list);
  const draw = drawer((items) => list.replaceChildren(...items.map(outItem)));
  return {
    element,
    update(place) {
      setText(heading, place.name);
      setData(element, "place", place.id);
      draw(place.items);
    },
  };
}

function outItem(item) {
  const says = make("p", { className: "out-says" }, make("b", { text: item.name }), `: ${item.says}.`);
  return make(
    "li",
    { className: "out", data: { kind: item.kind, thing: item.thing, state: item.state } },
    sign(item),
    says,
    make("p", { className: "out-mend" }, mend(item)),
  );
}

function mend(item) {
  if (item.kind !== "violation") return `${item.mend}.`;
  return make("a", { href: "/#violations", text: item.mend });
}

const DRAWN = new Set(["flag", "gate", "derail", "chock", "foreman", "key"]);

function sign(item) {
  if (item.state === "unknown") return item.kind === "fault" ? small("wire") : small("unknown");
  if (DRAWN.has(item.kind)) return thing(item.kind, "off");
  return item.kind === "violation" ? small("alarm") : small("go");
}

// Opening and closing.

byId("open").addEventListener("click", () => turn("open", "The session is open. Have a good evening."));
byId("close").addEventListener("click", () => {
  say("");
  if (check?.clear) return turn("close", "The session is closed. Everything is home.");
  setText(byId("sure-word"), question(check));
  show(byId("sure"), true);
  show(byId("close"), false);
  byId("keep-open").focus();
});
byId("keep-open").addEventListener("click", stay);
byId("sure").addEventListener("keydown", (event) => event.key === "Escape" && stay());
byId("close-anyway").addEventListener("click", () =>
  turn("close", "The session is closed. The debrief tells what was left out."),
);

function stay() {
  show(byId("sure"), false);
  show(byId("close"), true);
  byId("close").focus();
}

function question(now) {
  if (!now?.live) return "What is out is not known just now. Close the session all the same?";
  if (now.clear) return "Everything is home now. Close the session?";
  const places = now.places.map((place) => place.name).join(", ");
  return `${now.says} Look at: ${places}. Close the session all the same?`;
}

async function turn(command, done) {
  if (busy) return;
  busy = true;
  say("");
  const buttons = ["open", "close", "close-anyway"].map(byId);
  for (const button of buttons) button.setAttribute("aria-disabled", "true");
  const trouble = await ask("/api/session", { command });
  for (const button of buttons) button.setAttribute("aria-disabled", "false");
  busy = false;
  if (!trouble) show(byId("sure"), false);
  say(trouble || done);
  setTimer();
  showDoor();
}

function say(words) {
  show(byId("said"), Boolean(words));
  setText(byId("said"), words);
}

// The host's door.

async function showDoor() {
  if (!isHost()) return show(byId("door"), false);
  try {
    const response = await hostFetch("/api/host/door", { method: "GET" });
    if (!response.ok) return show(byId("door"), false);
    drawCalls((await response.json()).calls.slice(0, CALLS));
    show(byId("door"), true);
  } catch {
    show(byId("door"), false);
  }
}

function drawCalls(calls) {
  show(byId("no-calls"), calls.length === 0);
  byId("calls").replaceChildren(
    ...calls.map((call) => {
      const when = DAY.format(new Date(call.wall_us / 1000));
      const whence = call.whence ? ` from ${call.whence}` : "";
      return make(
        "li",
        { data: { wrong: call.what.includes("wrong") ? "yes" : "no" } },
        make("b", { text: call.what }),
        make("span", { text: `${when}${whence}` }),
      );
    }),
  );
}

document.addEventListener(HOST_CHANGE, showDoor);
refreshHost().then(showDoor);
