// What comes before an evening, for the host of a layout that is between sessions.

import { setData, setText, show } from "./dom.js";
import { small } from "./glyphs.js";
import { HOST_CHANGE, pinIsSet, refreshHost, signIn } from "./host.js";

const byId = (id) => document.getElementById(id);

// Gives the function that is told whether the layout is between sessions.
export function createStart() {
  let between = false;
  byId("start-pin").addEventListener("click", signIn);
  document.addEventListener(HOST_CHANGE, () => between && look());
  document.addEventListener("visibilitychange", () => between && !document.hidden && look());
  return (now) => {
    if (now === between) return;
    between = now;
    show(byId("start"), between);
    if (between) look();
  };
}

async function look() {
  await refreshHost();
  step("pin", pinIsSet(), "for all that only a host may do", "so that you can act as the host");
  try {
    const { jobs } = await (await fetch("/api/jobs")).json();
    const many = jobs.length === 1 ? "1 on the list" : `${jobs.length} on the list`;
    step("jobs", jobs.length > 0, many, "who works which spurs");
  } catch {
    // The page's own banner tells that the screen is away.
  }
}

function step(name, done, saidDone, saidElse) {
  const item = byId(`start-${name}`).closest("li");
  setData(item, "done", done ? "yes" : "no");
  setText(item.querySelector(".start-says"), done ? `done: ${saidDone}` : saidElse);
  item.querySelector(".start-mark").replaceChildren(...(done ? [small("done")] : []));
}
