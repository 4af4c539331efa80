// The host's board.

import { keyed } from "./dom.js";
import { follow } from "./page.js";
import { createRow } from "./row.js";
import { createSide } from "./side.js";

const drawRows = keyed(document.getElementById("rows"), createRow);
const drawSide = createSide();
let rows = new Map();

function draw(stream) {
  const state = stream.state;
  const live = stream.live;
  rows = drawRows(Object.entries(state.rows ?? {}).map(([id, row]) => [id, { row, live }]));
  document.getElementById("rows").style.setProperty("--rows", rows.size || 1);
  drawSide(state, live);
  tick(stream);
}

function tick(stream) {
  const now = stream.live ? stream.now() : null;
  for (const row of rows.values()) row.tick(now);
}

follow(draw, tick);
