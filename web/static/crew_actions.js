// The buttons of a job: an order is left for the engine, a tick stands at once and can be undone.

import { make, setText, show } from "./dom.js";

const LOOKS = 8;
const PAUSE_MS = 300;
const UNDO_MS = 10_000;

export class Actions {
  constructor(path, notice) {
    this.path = path;
    this.notice = notice;
  }

  // Does what a button is for; resolves to the trouble in plain words, or "".
  async press(action, cars) {
    this.tell("");
    const trouble = action.command ? await this.order(action, cars) : await this.tick(action);
    if (trouble) this.tell(trouble);
    return trouble;
  }

  async order({ command, spur, cars }, chosen) {
    const body = cars === undefined ? { command, spur } : { command, spur, cars: chosen ?? cars };
    const { said, trouble } = await this.send("/orders", body);
    return trouble || this.answer(said.request);
  }

  async tick({ step, stop, says }) {
    const { trouble } = await this.send("/ticks", { step, stop });
    if (!trouble) this.offerUndo({ step, stop, says });
    return trouble;
  }

  async undo(step, stop) {
    const { trouble } = await this.send("/ticks/back", { step, stop });
    this.tell(trouble);
  }

  async send(path, body) {
    try {
      const response = await fetch(this.path + path, {
        method: "POST",
        headers: { "Content-Type": "application/json" },
        body: JSON.stringify(body),
      });
      const said = await response.json();
      return { said, trouble: response.ok ? "" : sentence(said.error) };
    } catch {
      return { said: {}, trouble: "The screen could not be reached; nothing was done." };
    }
  }

  async answer(number) {
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

  tell(text) {
    clearTimeout(this.timer);
    this.notice.replaceChildren();
    setText(this.notice, text);
    show(this.notice, Boolean(text));
  }

  offerUndo({ step, stop, says }) {
    this.tell(`${says}. `);
    const undo = make("button", { type: "button", className: "plain-button undo", text: "Undo", data: { undo: step } });
    undo.addEventListener("click", () => this.undo(step, stop));
    this.notice.append(undo);
    this.timer = setTimeout(() => this.tell(""), UNDO_MS);
  }
}

function sentence(text) {
  return text ? `${text[0].toUpperCase()}${text.slice(1)}.` : "The screen refused it.";
}
