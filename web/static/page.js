// What the pages that follow the log share: the head, the clock and the banner that says what is not to be believed.

import { drawByHand } from "./by_hand.js";
import { setData, setText, show } from "./dom.js";
import { Stream } from "./stream.js";
import { clockText, layoutText } from "./words.js";

const byId = (id) => document.getElementById(id);
const FIRST_WORD_MS = 2500;

export function follow(draw, tick = () => {}, options = {}) {
  const stream = new Stream((changed) => {
    drawHead(changed);
    if (changed.state) draw(changed);
  }, options);
  setInterval(() => {
    drawClock(stream);
    if (!stream.state) drawHead(stream);
    if (stream.state) tick(stream);
  }, 500);
  drawHead(stream);
  return stream;
}

// A page that has only begun to listen raises no alarm: it shows nothing yet that could be believed.
function waits(stream) {
  return !stream.state && !stream.lost && performance.now() < FIRST_WORD_MS;
}

// Between sessions there is no time to tell, only where one is begun.
function drawClock(stream) {
  if (!stream.state) return;
  const now = stream.live ? stream.now() : null;
  const evening = stream.state?.evening;
  const between = stream.live && evening?.opened === false;
  setText(byId("session-clock"), clockText(now));
  if (evening) setText(byId("layout-clock"), layoutText(now, evening));
  show(byId("session-clock-part"), !between);
  show(byId("layout-clock-part"), Boolean(evening) && !between);
  show(byId("between"), between);
}

function drawHead(stream) {
  const head = stream.state?.head;
  if (waits(stream)) return;
  if (stream.state) setData(document.body, "heard", "yes");
  setData(document.body, "live", stream.live ? "yes" : "no");
  setData(document.body, "connected", stream.connected ? "yes" : "no");
  if (head?.layout) setText(byId("layout-name"), head.layout);
  const word = stream.connected ? (head?.engine ?? "listening") : "lost";
  setData(byId("engine"), "engine", stream.connected && head?.live && head.unheard?.length ? "silent" : word);
  setText(byId("engine-word"), stream.connected ? short(head) : "No connection");
  for (const count of document.querySelectorAll("[data-open-count]")) {
    setData(count, "openCount", stream.state?.open_count ?? 0);
    setText(count, String(stream.state?.open_count ?? 0));
  }
  drawAlarm(stream, head);
  drawByHand(byId("by-hand"), stream.state?.by_hand);
  drawClock(stream);
}

const SHORT = {
  guarding: "Guarding",
  starting: "Starting",
  stopped: "Stopped",
  silent: "Silent",
  listening: "Listening",
  unread: "Not heard",
  unwritten: "Not logging",
  absent: "None yet",
};

// A board of many boxes has no engine of its own.
function short(head) {
  if (head.live && head.boxes !== undefined) {
    const guard = head.boxes - head.unheard.length;
    return head.unheard.length ? `Boxes: ${guard} of ${head.boxes} guard` : `Boxes: all ${head.boxes} guard`;
  }
  const simulated = head.simulated ? " · simulated" : "";
  return `Engine: ${(SHORT[head.engine] ?? head.engine).toLowerCase()}${simulated}`;
}

function unheardWords(names) {
  const some = names.length > 4 ? `${names.slice(0, 3).join(", ")} and ${names.length - 3} more` : names.join(", ");
  return [names.length === 1 ? "One box does not guard." : `${names.length} boxes do not guard.`, `${some}: treat every switch there as red.`];
}

// They cut each other off at the broker, and neither is what the board last heard.
function sharedWords(names, unheard) {
  const others = unheard.filter((name) => !names.includes(name));
  const more = others.length ? ` ${unheardWords(others).join(" ")}` : "";
  const right = "Switch one of them off, or give it a name and a password of its own. Treat every switch of both as red.";
  return [names.map((name) => `Two boxes call themselves ${name}.`).join(" "), right + more];
}

function drawAlarm(stream, head) {
  const [first, then] = alarmWords(stream, head);
  show(byId("alarm"), Boolean(first));
  setText(byId("alarm-head"), first);
  setText(byId("alarm-text"), then);
}

function alarmWords(stream, head) {
  if (!stream.connected) {
    const state = stream.state ? "What stands here is old." : "Nothing was heard yet.";
    return ["No connection to the screen.", `${state} Trying again. Treat every switch as red.`];
  }
  if (head.trouble && head.engine !== "unwritten") {
    return ["The logbook can't be read.", `${head.trouble}. Treat every switch as red.`];
  }
  if (head.live && head.shared?.length) return sharedWords(head.shared, head.unheard);
  if (head.live && head.unheard?.length) return unheardWords(head.unheard);
  if (head.live) return ["", ""];
  const [first, ...rest] = head.engine_says.split(": ");
  const then = rest.join(": ");
  return [`${first}.`, then ? `${then[0].toUpperCase()}${then.slice(1)}.` : ""];
}
