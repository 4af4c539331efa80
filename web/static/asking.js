// Leaves a request and says what became of it: "" for accepted, else a reason in plain words.
// What is the host's to do asks for the PIN first, where this browser has not given it.

import { hostFetch } from "./host.js";

// How long one looks for an answer and how often, whose it is, and how a refusal begins.
const ENGINE = { looks: 8, pauseMs: 300, who: "engine", refusal: "Refused: " };

export async function ask(path, body, of = ENGINE) {
  let left;
  try {
    const response = await hostFetch(path, { body });
    if (response.status === 401) return "Nothing was asked: the host PIN was not given.";
    left = await response.json();
    if (!response.ok) return sentence(left.error);
  } catch {
    return "The screen could not be reached; nothing was asked.";
  }
  return answer(left.request, of);
}

async function answer(number, { looks, pauseMs, who, refusal }) {
  for (let look = 0; look < looks; look += 1) {
    await new Promise((done) => setTimeout(done, pauseMs));
    try {
      const said = await (await fetch(`/api/requests/${number}`)).json();
      if (said.accepted === true) return "";
      if (said.accepted === false) return refusal ? `${refusal}${said.why}.` : sentence(said.why);
    } catch {
      return "The connection was lost; look whether it was done.";
    }
  }
  return `The ${who} has not answered yet.`;
}

// A button that can't be pressed twice while its request is under way.
export function asking(button, path, body, tell) {
  button.addEventListener("click", async () => {
    if (button.getAttribute("aria-disabled") === "true") return;
    button.setAttribute("aria-disabled", "true");
    tell("");
    const trouble = await ask(path, typeof body === "function" ? body() : body);
    button.setAttribute("aria-disabled", "false");
    tell(trouble);
  });
  return button;
}

function sentence(text) {
  if (!text) return "It was refused.";
  return `${text[0].toUpperCase()}${text.slice(1)}${/[.!?]$/.test(text) ? "" : "."}`;
}
