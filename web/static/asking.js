// Leaves a request and says what became of it: "" for accepted, else a reason in plain words.
// What is the host's to do asks for the PIN first, where this browser has not given it.

import { hostFetch } from "./host.js";

const LOOKS = 8;
const PAUSE_MS = 300;

export async function ask(path, body) {
  let left;
  try {
    const response = await hostFetch(path, { body });
    if (response.status === 401) return "Nothing was asked: the host PIN was not given.";
    left = await response.json();
    if (!response.ok) return sentence(left.error);
  } catch {
    return "The screen could not be reached; nothing was asked.";
  }
  return answer(left.request);
}

async function answer(number) {
  for (let look = 0; look < LOOKS; look += 1) {
    await new Promise((done) => setTimeout(done, PAUSE_MS));
    try {
      const said = await (await fetch(`/api/requests/${number}`)).json();
      if (said.accepted === true) return "";
      if (said.accepted === false) return `Refused: ${said.why}.`;
    } catch {
      return "The connection was lost; look whether it was done.";
    }
  }
  return "The engine has not answered yet.";
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
  return text ? `${text[0].toUpperCase()}${text.slice(1)}.` : "The screen refused it.";
}
