// Numbers out of forms, and what is wrong with them in plain words.

import { setText, show } from "./dom.js";

const byId = (id) => document.getElementById(id);

// The number in a field, null where it is empty. Throws a sentence for what is no number or out of bounds.
export function numberIn(id, { needed = true } = {}) {
  const input = byId(id);
  input.removeAttribute("aria-invalid");
  const label = document.querySelector(`label[for="${id}"]`).textContent;
  if (input.validity.badInput || (input.value !== "" && !input.validity.valid)) return wrong(input, `${label}: a number from ${input.min} to ${input.max}.`);
  if (input.value === "") return needed ? wrong(input, `${label} is needed.`) : null;
  const value = Number(input.value);
  return needed && value === 0 && input.dataset.zero !== "yes" && input.step === "any" ? wrong(input, `${label} must be above 0.`) : value;
}

export function textIn(id) {
  const input = byId(id);
  input.removeAttribute("aria-invalid");
  const value = input.value.trim();
  return value || wrong(input, `${document.querySelector(`label[for="${id}"]`).textContent} is needed.`);
}

function wrong(input, text) {
  input.setAttribute("aria-invalid", "true");
  input.focus();
  throw new FormError(text);
}

export class FormError extends Error {}

export function tell(id, text) {
  setText(byId(id), text);
  show(byId(id), Boolean(text));
}

// Runs what a form does; what is wrong with the form is told where `say` puts it.
export function submitting(form, say, run) {
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const button = form.querySelector("button[type=submit]");
    if (button.getAttribute("aria-disabled") === "true") return;
    button.setAttribute("aria-disabled", "true");
    try {
      await run();
    } catch (error) {
      if (!(error instanceof FormError)) throw error;
      say(error.message);
    } finally {
      button.setAttribute("aria-disabled", "false");
    }
  });
}

export function inches(mm) {
  return `${(mm / 25.4).toFixed(0)} in (${mm.toFixed(0)} mm)`;
}
