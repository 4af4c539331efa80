// Leaves what is asked for the sitting, and says what became of it: "" for accepted, else why not.

import { hostFetch } from "./host.js";

const LOOKS = 40;
const PAUSE_MS = 120; // A thumb should feel an answer.

export async function ask(body) {
  let left;
  try {
    const response = await hostFetch("/api/commission/asked", { body });
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
      if (said.accepted === false) return sentence(said.why);
    } catch {
      return "The connection was lost; look whether it was done.";
    }
  }
  return "The test has not answered yet.";
}

function sentence(text) {
  if (!text) return "It was refused.";
  return `${text[0].toUpperCase()}${text.slice(1)}${/[.!?]$/.test(text) ? "" : "."}`;
}
