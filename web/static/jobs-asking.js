// Asks something of the screen as the host: the answer, or an error in plain words.

import { hostFetch } from "./host.js";

export async function send(path, body) {
  try {
    const response = await hostFetch(path, { body });
    if (response.status === 401) return { error: "Nothing was changed: the host PIN was not given." };
    const said = await response.json();
    return response.ok ? { said } : { error: sentence(said.error), wrong: said.wrong };
  } catch {
    return { error: "The screen could not be reached; nothing was changed." };
  }
}

export function sentence(text) {
  if (!text) return "The screen refused it.";
  return `${text[0].toUpperCase()}${text.slice(1)}${/[.!?]$/.test(text) ? "" : "."}`;
}
