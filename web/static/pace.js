// The Pace page: passes of traps as they come, throttle set-up, roll tests, brake tests.

import { drawer, setText, show } from "./dom.js";
import { startAir } from "./pace_air.js";
import { startCalibration } from "./pace_calibration.js";
import { startLocomotives } from "./pace_locomotives.js";
import { passOf } from "./pace_passes.js";
import { startRolls } from "./pace_rolls.js";
import { follow } from "./page.js";

const byId = (id) => document.getElementById(id);

function trouble(text) {
  setText(byId("pace-trouble"), text);
  show(byId("pace-trouble"), Boolean(text));
}

const calibration = startCalibration();
const locomotives = startLocomotives(trouble);
const rolls = startRolls(trouble);
startAir();

const drawPasses = drawer((speeds) => {
  byId("pass-list").replaceChildren(...speeds.map(passOf));
  calibration.passed(speeds);
  locomotives.passed(speeds);
});

let session = null;
follow((stream) => {
  drawPasses(stream.state.speeds ?? []);
  show(byId("no-passes"), !(stream.state.speeds ?? []).length && !byId("no-traps").checkVisibility?.());
  const now = stream.state.head.session;
  if (now === session) return;
  session = now;
  load();
});

async function load() {
  try {
    const response = await fetch("/api/pace/track");
    const said = await response.json();
    if (!response.ok) return trouble(said.error);
    trouble("");
    calibration.draw(said.traps);
    rolls.draw(said);
    show(byId("no-traps"), !said.traps.length);
    if (!said.traps.length) show(byId("no-passes"), false);
    show(byId("calibration"), said.traps.length > 0);
  } catch {
    trouble("The screen could not be reached; what stands here may be old.");
  }
  return locomotives.load();
}
