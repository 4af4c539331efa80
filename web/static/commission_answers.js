// Which answers a step has, as big buttons under the thumb, and what else can be asked for.

import { make } from "./dom.js";

const SETTLE_MS = 350; // A step may go on by itself just as a thumb comes down on the one before.

// The buttons of a step: what is asked, its words, and whether it is a main one.
export function answersOf(view) {
  if (view?.word !== "live") return [];
  const { asked, state, waits } = view.sitting.shown;
  if (state === "resting") return [{ body: { say: "go-on" }, words: "Go on", main: true }];
  if (state !== "asking") return [];
  return stepAnswers(asked).map((answer) => (answer.body.submit ? answer : { ...answer, waits }));
}

function stepAnswers({ step, about }) {
  const skip = { body: { say: "skip" }, words: "Skip this wire" };
  switch (step) {
    case "listen":
      return [];
    case "finished":
      return [{ body: { submit: "sign" }, words: "Sign the record", main: true }];
    case "prepare":
      return [{ body: { say: "done" }, words: "All is so", main: true }];
    case "make":
    case "break":
      return [{ body: { say: "done" }, words: "It is done", main: true }, skip];
    case "dark":
      return [{ body: { say: "seen", seen: [] }, words: "No, nothing", main: true }, { body: { open: "else" }, words: "Yes, something" }, { ...skip, words: "Skip all outputs" }];
    default:
      return [
        { body: { say: "seen", seen: [about] }, words: "Yes, only that", main: true },
        { body: { say: "seen", seen: [] }, words: "No, nothing", main: true },
        { body: { open: "else" }, words: "Something else" },
        skip,
      ];
  }
}

// What can be asked for beside the step.
export function moreOf(view) {
  if (view?.word !== "live") return [];
  const { shown, about } = view.sitting;
  if (shown.state !== "asking" || shown.asked.step === "finished") return [];
  const more = [];
  const moves = ["prepare", "make", "break"].includes(shown.asked.step);
  if (about.simulated && moves) more.push({ body: { say: "do" }, words: "Let simulated hands do it", waits: shown.waits });
  more.push({ body: { say: "rest" }, words: "Stop for now" });
  more.push({ body: { say: "end" }, words: "Skip all that is left", sure: "Leave all these wires untested?" });
  return more;
}

// Buttons that rest for a moment after they come, so that no late thumb answers a new step.
export function buttonsOf(answers, press) {
  return answers.map((answer) => {
    const { body, words, main, waits } = answer;
    const button = make("button", { type: body.submit ? "submit" : "button", text: words, className: main ? "big" : "plain-button", data: { say: body.say ?? body.open ?? body.submit } });
    if (body.submit) button.setAttribute("form", body.submit); // So that Enter in a field does it too.
    if (waits !== undefined) {
      button.setAttribute("aria-disabled", "true");
      if (waits) {
        button.classList.add("settling");
        setTimeout(() => button.removeAttribute("aria-disabled"), SETTLE_MS);
      }
    }
    button.addEventListener("click", (event) => {
      if (button.getAttribute("aria-disabled") === "true") event.preventDefault();
      else if (!body.submit) press(answer, button);
    });
    return button;
  });
}
