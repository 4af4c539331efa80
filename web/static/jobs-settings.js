// The evening's settings: read by everybody, changed by the host.

import { setText, show } from "./dom.js";
import { send } from "./jobs-asking.js";

const byId = (id) => document.getElementById(id);
const LOCAL = /^https?:\/\/(localhost|127\.\d+\.\d+\.\d+|0\.0\.0\.0|\[::1?\])(:\d+)?$/;

export async function startSettings() {
  const form = byId("evening-form");
  byId("set-address").addEventListener("input", warn);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    save(form);
  });
  try {
    const response = await fetch("/api/settings");
    if (response.ok) draw(await response.json());
  } catch {
    say("The settings could not be read.");
  }
}

function draw(said) {
  byId("set-address").value = said.address;
  byId("set-clock").value = said["layout-clock-start"];
  byId("set-ceiling").value = String(said["waiting-ceiling"]);
  for (const box of document.getElementsByName("crew-step")) box.checked = said["crew-steps"].includes(box.value);
  warn();
}

async function save(form) {
  const ceiling = byId("set-ceiling");
  if (!ceiling.validity.valid || ceiling.value === "") {
    ceiling.focus();
    return say("Waiting is a whole number from 0 to 100 per cent.");
  }
  const { said, error } = await send("/api/settings", {
    address: byId("set-address").value,
    "crew-steps": [...form.querySelectorAll("[name=crew-step]:checked")].map((box) => box.value),
    "waiting-ceiling": Number(ceiling.value),
    "layout-clock-start": byId("set-clock").value,
  });
  if (error) return say(error);
  draw(said);
  return say("Saved.");
}

// A loopback address leads a phone to itself.
function warn() {
  const input = byId("set-address");
  const address = input.value.trim() || input.placeholder;
  const whole = address.includes("://") ? address : `http://${address}`;
  show(byId("loopback"), LOCAL.test(whole.replace(/\/$/, "")));
}

function say(text) {
  setText(byId("evening-notice"), text);
  show(byId("evening-notice"), Boolean(text));
}
