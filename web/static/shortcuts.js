// Single keys for what a host does often, and the list of them under "?". They can be switched off.

import { make } from "./dom.js";

const KEPT = "spurlock-shortcuts";
const byId = (id) => document.getElementById(id);

export function shortcuts(all) {
  const list = [...all, ["?", "This list", open]];
  const choice = byId("shortcuts-on");
  choice.checked = kept() !== "off";
  choice.addEventListener("change", () => keep(choice.checked ? "on" : "off"));
  byId("help").addEventListener("click", open);
  byId("shortcut-list").replaceChildren(
    ...list.flatMap(([key, says]) => [make("dt", {}, make("kbd", { text: key.toUpperCase() })), make("dd", { text: says })]),
  );
  document.addEventListener("keydown", (event) => {
    const wanted = list.find(([key]) => key === event.key.toLowerCase());
    if (!wanted || isBusy(event) || (!choice.checked && event.key !== "?")) return;
    event.preventDefault();
    wanted[2]();
  });
}

function open() {
  byId("shortcuts").showModal();
}

// Keys that are held, belong to the browser, or are being typed into something are nobody's shortcut.
function isBusy(event) {
  if (event.ctrlKey || event.metaKey || event.altKey || event.repeat || event.defaultPrevented) return true;
  if (document.querySelector("dialog[open]")) return true;
  return event.target instanceof Element && Boolean(event.target.closest("input, textarea, select, [contenteditable]"));
}

function kept() {
  try {
    return localStorage.getItem(KEPT);
  } catch {
    return null;
  }
}

function keep(word) {
  try {
    localStorage.setItem(KEPT, word);
  } catch {
    // A browser that keeps nothing asks again next time.
  }
}
