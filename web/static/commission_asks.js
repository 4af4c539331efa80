// Leaves what is asked for the sitting, and says what became of it: "" for accepted, else why not.

import { ask as leave } from "./asking.js";

// A thumb should feel an answer.
const SITTING = { looks: 40, pauseMs: 120, who: "test", refusal: "" };

export function ask(body) {
  return leave("/api/commission/asked", body, SITTING);
}
