// Times in the reader's zone, the print button, and the host's own ceiling for waiting.

import { hostFetch } from "./host.js";

const DAY = new Intl.DateTimeFormat(undefined, {
  weekday: "short", year: "numeric", month: "long", day: "numeric", hour: "2-digit", minute: "2-digit",
});

for (const time of document.querySelectorAll("time[data-day]")) {
  time.textContent = DAY.format(new Date(time.dateTime));
}

const print = document.getElementById("print");
print.hidden = false;
print.addEventListener("click", () => window.print());

const form = document.getElementById("ceiling-form");
const said = document.getElementById("ceiling-said");
form.hidden = false;
form.addEventListener("submit", async (event) => {
  event.preventDefault();
  const ceiling = Number(document.getElementById("ceiling").value);
  said.textContent = "";
  try {
    const response = await hostFetch("/api/settings", { body: { "waiting-ceiling": ceiling } });
    if (response.ok) location.reload();
    else if (response.status === 401) said.textContent = "Nothing was kept: the host PIN was not given.";
    else said.textContent = `It was not kept: ${(await response.json()).error}.`;
  } catch {
    said.textContent = "The screen could not be reached; nothing was kept.";
  }
});
