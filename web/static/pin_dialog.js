// The dialog at the host's door: asks for the PIN, or lets the host sign out. Escape cancels.

import { make, setText, show } from "./dom.js";

// Resolves to whether this browser is the host's when the dialog closes.
export function openDialog(me, door) {
  const dialog = make("dialog", { className: "host-dialog", id: "host-dialog", "aria-labelledby": "host-title" });
  const title = make("h2", { id: "host-title" });
  const part = make("div");
  dialog.append(title, part);
  document.body.append(dialog);
  return new Promise((resolve) => {
    dialog.addEventListener("close", () => {
      dialog.remove();
      resolve(me.host);
    });
    const redraw = () => {
      const [name, fill] = me.host ? ["You are the host here", signedIn] : me.pinIsSet ? ["Host PIN", asking] : ["No host PIN is set", unset];
      setText(title, name);
      part.replaceChildren(...fill(dialog, door, redraw));
      part.querySelector("input, button")?.focus();
    };
    dialog.showModal();
    redraw();
  });
}

function asking(dialog, door, redraw) {
  const input = make("input", { id: "host-pin", type: "password", autocomplete: "current-password", maxlength: "64", required: "", "aria-describedby": "host-notice" });
  const seen = make("input", { type: "checkbox", id: "host-seen" });
  seen.addEventListener("change", () => (input.type = seen.checked ? "text" : "password"));
  const notice = noticeLine();
  const enter = make("button", { type: "submit", text: "Sign in", data: { door: "enter" } });
  const form = make(
    "form", { novalidate: "" },
    make("p", { className: "quiet", text: "Everybody may watch. To act as the host, give the PIN." }),
    make("label", { for: "host-pin", text: "PIN" }), input,
    make("label", { className: "host-check" }, seen, make("span", { text: "Show what I type" })),
    notice, make("div", { className: "host-buttons" }, enter, cancel(dialog, "Cancel")),
  );
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    if (enter.getAttribute("aria-disabled") === "true") return;
    if (!input.value) return say(notice, "Type the PIN first.");
    enter.setAttribute("aria-disabled", "true");
    const { error, wait } = await door.enter(input.value);
    if (!error) return dialog.close();
    input.setAttribute("aria-invalid", "true");
    say(notice, error);
    input.select();
    input.focus();
    if ((await door.refresh()) || error.startsWith("No host PIN")) return redraw();
    return rest(enter, wait);
  });
  return [form];
}

// The button rests, and counts, for as long as the screen would not look at a PIN.
function rest(button, seconds) {
  if (!(seconds > 0) || !button.isConnected) {
    button.setAttribute("aria-disabled", "false");
    setText(button, "Sign in");
    return;
  }
  setText(button, `Wait ${seconds} s`);
  setTimeout(() => rest(button, seconds - 1), 1000);
}

function signedIn(dialog, door) {
  const notice = noticeLine();
  const out = make("button", { type: "button", text: "Sign out", data: { door: "leave" } });
  out.addEventListener("click", async () => {
    const trouble = await door.leave();
    if (trouble) say(notice, trouble);
    else dialog.close();
  });
  return [
    make("p", { className: "quiet", text: "This browser may act as the host: answer for the foreman, acknowledge, prepare, open and close. Sign out before you hand it to somebody else." }),
    notice, make("div", { className: "host-buttons" }, cancel(dialog, "Stay signed in"), out),
  ];
}

function unset(dialog, door, redraw) {
  const again = make("button", { type: "button", text: "It is set now" });
  again.addEventListener("click", async () => {
    await door.refresh();
    redraw();
  });
  return [
    make("p", { text: "Until there is one, nobody can act as the host. At the machine that Spurlock runs on, type this; where Spurlock was started it has written the whole line, with the logbook's name:" }),
    make("p", {}, make("code", { className: "host-command", text: "spurlock pin LOGBOOK" })),
    make("div", { className: "host-buttons" }, again, cancel(dialog, "Close")),
  ];
}

function cancel(dialog, text) {
  const button = make("button", { type: "button", text, className: "host-plain", data: { door: "cancel" } });
  button.addEventListener("click", () => dialog.close());
  return button;
}

function noticeLine() {
  return make("p", { className: "notice", id: "host-notice", role: "alert", hidden: "" });
}

function say(notice, text) {
  show(notice, true);
  setText(notice, text);
}
