// Has a forecast made, and sets the pace dial. Both are the host's to do.

import { hostFetch } from "./host.js";

const DAY = new Intl.DateTimeFormat(undefined, { weekday: "short", hour: "2-digit", minute: "2-digit", month: "long", day: "numeric" });

for (const time of document.querySelectorAll("time[data-day]")) {
  time.textContent = DAY.format(new Date(time.dateTime));
}

function number(id) {
  const input = document.getElementById(id);
  const fits = input.value !== "" && input.validity.valid;
  if (!fits) input.focus();
  return fits ? Number(input.value) : null;
}

// Sends what is wanted, and shows the page anew or says why not.
async function send(form, path, body, said, wait) {
  const button = form.querySelector("button");
  if (button.getAttribute("aria-disabled") === "true") return;
  button.setAttribute("aria-disabled", "true");
  said.textContent = wait;
  try {
    const response = await hostFetch(path, { body });
    if (response.ok) return void location.reload();
    if (response.status === 401) said.textContent = "Nothing was done: the host PIN was not given.";
    else said.textContent = sentence((await response.json()).error);
  } catch {
    said.textContent = "The screen could not be reached.";
  }
  button.setAttribute("aria-disabled", "false");
}

function sentence(text) {
  return `${text[0].toUpperCase()}${text.slice(1)}.`;
}

const form = document.getElementById("forecast-form");
form?.addEventListener("submit", (event) => {
  event.preventDefault();
  const said = document.getElementById("forecast-said");
  const limits = { minutes: "An evening has 1 to 1440 minutes.", crews: "There are 1 to 50 crews.", chance: "The chance is 1 to 99 per cent." };
  const asked = {};
  for (const [id, words] of Object.entries(limits)) {
    asked[id] = number(id);
    if (asked[id] === null) return void (said.textContent = words);
  }
  const body = { minutes: asked.minutes, crews: asked.crews, chance_percent: asked.chance };
  return void send(form, "/api/forecast", body, said, "Playing the evening a thousand times …");
});

const dial = document.getElementById("dial-form");
dial?.addEventListener("submit", (event) => {
  event.preventDefault();
  const chosen = dial.querySelector("input:checked");
  if (chosen) send(dial, "/api/settings", { "pace-dial": Number(chosen.value) }, document.getElementById("dial-said"), "");
});
