// The briefing: the lamps' shapes, and one card at a time for a whole room.

import { setText, show } from "./dom.js";
import { lamp } from "./glyphs.js";

const byId = (id) => document.getElementById(id);
const cards = [...document.querySelectorAll(".card")];
let at = -1;

for (const place of document.querySelectorAll("[data-lamp-glyph]")) place.append(lamp(place.dataset.lampGlyph));

function showCard(place) {
  at = Math.max(0, Math.min(place, cards.length - 1));
  cards.forEach((card, index) => card.classList.toggle("shown", index === at));
  head(cards[at], true);
  document.body.dataset.showing = "yes";
  show(byId("show-bar"), true);
  byId("show-back").disabled = at === 0;
  setText(byId("show-next"), at === cards.length - 1 ? "From the start" : "Next");
  setText(byId("show-count"), `${at + 1} of ${cards.length}`);
}

// While one card fills the screen, its heading is the page's.
function head(card, first) {
  const heading = card.querySelector("h3");
  if (first) heading.setAttribute("role", "heading");
  else heading.removeAttribute("role");
  if (first) heading.setAttribute("aria-level", "1");
  else heading.removeAttribute("aria-level");
}

function next() {
  showCard(at === cards.length - 1 ? 0 : at + 1);
}

function end() {
  if (at < 0) return;
  at = -1;
  for (const card of cards) head(card, false);
  delete document.body.dataset.showing;
  show(byId("show-bar"), false);
  if (document.fullscreenElement) document.exitFullscreen();
  byId("show-full").focus();
}

byId("show-full").addEventListener("click", async () => {
  showCard(0);
  byId("show-next").focus();
  try {
    await document.documentElement.requestFullscreen();
  } catch {
    // Some phones can't; the cards fill the window then.
  }
});
byId("show-back").addEventListener("click", () => showCard(at - 1));
byId("show-next").addEventListener("click", next);
byId("show-end").addEventListener("click", end);
byId("print").addEventListener("click", () => window.print());

document.addEventListener("fullscreenchange", () => {
  if (!document.fullscreenElement) end();
});
document.addEventListener("keydown", (event) => {
  if (at < 0) return;
  if (["ArrowRight", "ArrowDown", "PageDown"].includes(event.key)) next();
  else if (["ArrowLeft", "ArrowUp", "PageUp"].includes(event.key)) showCard(at - 1);
  else if (event.key === "Escape") end();
  else return;
  event.preventDefault();
});
