// Rows are drawn closer where they would not all fit on the screen; they are never cut.

// Larger letters (only a wall uses them), the usual ones, a row on one line, a smaller line.
const LEVELS = [["yes", 0], ["no", 0], ["no", 1], ["no", 2]];

export function fitting(element) {
  let last = "";
  let queued = false;
  let level = 0;

  function set(wanted) {
    level = wanted;
    [element.dataset.roomy, element.dataset.tight] = LEVELS[level];
  }

  function measure() {
    queued = false;
    while (level < LEVELS.length - 1 && overflows(element)) set(level + 1);
  }

  function later() {
    if (queued) return;
    queued = true;
    requestAnimationFrame(measure);
  }

  // Closer while too much is there; wider again only when something big has changed.
  function look(key) {
    if (key !== last) set(0);
    last = key;
    later();
  }

  function anew() {
    set(0);
    later();
  }

  addEventListener("resize", anew);
  return { look, anew };
}

// What somebody has unfolded lies over the rows, and is no reason to draw them anew.
function overflows(element) {
  if (element.querySelector(".why-rest:not([hidden])")) return false;
  if (element.scrollHeight > element.clientHeight + 1) return true;
  return [...element.children].some((row) => row.scrollHeight > row.clientHeight + 1);
}
