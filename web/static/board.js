// The host's board.

import { createBoxes } from "./boxes.js";
import { createDesk } from "./desk.js";
import { keyed } from "./dom.js";
import { createFacts } from "./facts.js";
import { fitting } from "./fitting.js";
import { follow } from "./page.js";
import { createRow } from "./row.js";
import { shortcuts } from "./shortcuts.js";
import { createSide } from "./side.js";
import { createSound } from "./sound.js";
import { createStart } from "./start.js";
import { createWall } from "./wall.js";

const byId = (id) => document.getElementById(id);
const TITLE = document.title;

const sound = createSound(byId("sound"));
const desk = createDesk(sound);
const fit = fitting(byId("rows"));
const wall = createWall(byId("wall"), fit.anew);
const drawRows = keyed(byId("rows"), createRow);
const drawSide = createSide(sound);
const drawFacts = createFacts();
const drawBoxes = createBoxes();
const drawStart = createStart();
let rows = new Map();

function draw(stream) {
  const state = stream.state;
  const live = stream.live;
  rows = drawRows(Object.entries(state.rows ?? {}).map(([id, row]) => [id, { row, live: live && row.heard !== false }]));
  const waiting = desk.draw(live ? (state.desk ?? []) : []);
  drawSide(state, live);
  const between = live && state.evening?.opened === false;
  drawStart(between);
  drawBoxes(state.nodes, live);
  drawFacts(state, { live, connected: stream.connected, waiting });
  const toSee = waiting + (live ? (state.open_count ?? 0) : 0);
  document.title = toSee ? `(${toSee}) ${TITLE}` : TITLE;
  wall.rows(rows.size);
  fit.look(`${rows.size} ${waiting} ${between}`);
  tick(stream);
}

function tick(stream) {
  const now = stream.live ? stream.now() : null;
  for (const row of rows.values()) row.tick(now);
  desk.tick(now);
}

follow(draw, tick);
document.addEventListener("visibilitychange", fit.anew);

shortcuts([
  ["r", "Answer the first at the desk: release, or take its spur back", () => desk.press(0)],
  ["n", "Tell the first at the desk: not yet", () => desk.press(1)],
  ["a", "Acknowledge the newest violation", () => document.querySelector('[data-acknowledged="no"] [data-acknowledge]')?.click()],
  ["f", "Full screen, and back", wall.toggle],
  ["s", "Sound on or off", sound.toggle],
]);
