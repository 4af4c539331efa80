// The whole screen for the board, on a wall. Without the browser's help (?wall) the page does it alone.

import { setText } from "./dom.js";

const page = document.documentElement;
const KIOSK = new URLSearchParams(location.search).has("wall");

export function createWall(button, changed) {
  function draw() {
    const on = KIOSK || Boolean(document.fullscreenElement);
    page.dataset.wall = on ? "yes" : "no";
    button.setAttribute("aria-pressed", String(on));
    setText(button, on ? "Leave full screen" : "Full screen");
    changed();
  }

  async function toggle() {
    if (!document.fullscreenEnabled) return;
    try {
      if (document.fullscreenElement) await document.exitFullscreen();
      else await page.requestFullscreen();
    } catch {
      // The browser would not: the board stays as it is.
    }
  }

  // Few rows leave room for larger letters.
  function rows(count) {
    const size = count <= 4 ? "few" : count <= 6 ? "some" : "many";
    if (page.dataset.rows === size) return;
    page.dataset.rows = size;
    changed();
  }

  button.hidden = KIOSK || !document.fullscreenEnabled;
  button.addEventListener("click", toggle);
  document.addEventListener("fullscreenchange", draw);
  draw();
  return { toggle, rows };
}
