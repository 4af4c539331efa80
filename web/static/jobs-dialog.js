// Dialogs of the Jobs page. Escape always leaves everything as it is.

import { make } from "./dom.js";

// Opens a dialog around `fill(close)`; resolves to what `close` is called with, else to null.
export function ask(title, fill) {
  const heading = make("h2", { id: "ask-title", text: title });
  const dialog = make("dialog", { className: "jobs-dialog", "aria-labelledby": "ask-title" }, heading);
  let answer = null;
  const close = (given) => {
    answer = given;
    dialog.close();
  };
  dialog.append(...fill(close));
  document.body.append(dialog);
  return new Promise((resolve) => {
    dialog.addEventListener("close", () => {
      dialog.remove();
      resolve(answer);
    });
    dialog.showModal();
  });
}

export function confirmed(title, text, yes, no) {
  return ask(title, (close) => [
    make("p", { text }),
    make("div", { className: "dialog-buttons" }, press(yes, () => close(true), "yes"), press(no, () => close(false), "no", true)),
  ]);
}

export function press(text, act, name, plain = false) {
  const button = make("button", { type: "button", text, data: { do: name } });
  if (plain) button.className = "plain-button";
  button.addEventListener("click", act);
  return button;
}
