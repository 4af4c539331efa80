// One row of the board: a spur with its switch, or a switch alone.

import { asking } from "./asking.js";
import { drawer, make, setData, setText, show } from "./dom.js";
import { lamp, small, stepLine, thing } from "./glyphs.js";
import { spanText } from "./words.js";

const REFUSED_FOR_US = 20e6;
const DARK = { colour: "dark", shows: "off", word: "Dark", says: "Treat as red" };
const PHASES = { idle: "At rest", opening: "Opening", working: "Working", closing: "Closing" };

export function createRow(id) {
  const parts = build(id);
  let last = null;
  let trouble = "";
  const tell = (text) => {
    trouble = text;
    parts.tick();
  };
  const draws = {
    lamps: drawer((lamps) => parts.lamps.replaceChildren(...lamps.map(lampOf))),
    steps: drawer((steps) => parts.steps.replaceChildren(stepLine(), ...steps.map(stepOf))),
    chips: drawer((chips) => parts.chips.replaceChildren(...chips.map(chipOf))),
    badges: drawer((badges) => parts.badges.replaceChildren(...badges.map(badgeOf))),
    buttons: drawer((all) => parts.buttons.replaceChildren(...all.map((one) => button(id, one, tell)))),
  };

  let now = null;
  parts.tick = (at = now) => {
    now = at;
    if (!last) return;
    const waits = now !== null && last.next;
    setText(parts.wait, waits ? `for ${spanText(now - last.next.since_us)}` : "");
    const refused = last.refused && now !== null && now - last.refused.at_us < REFUSED_FOR_US;
    const notice = trouble || (refused ? `Refused: ${last.refused.says}` : "");
    setText(parts.notice, notice);
    show(parts.notice, Boolean(notice));
  };

  function update({ row, live }) {
    last = row;
    const sure = live && row.sure;
    setText(parts.name, row.name);
    setText(parts.sub, row.spur ? row.switch_name : "No spur");
    for (const [key, value] of Object.entries({ stage: row.stage, sure: sure ? "yes" : "no", phase: row.phase })) {
      setData(parts.element, key, value);
    }
    draws.lamps(live ? [row.lamp, row.white].filter(Boolean) : [row.lamp.colour === "none" ? row.lamp : DARK]);
    drawSteps(row, live, sure);
    setText(parts.next, nextText(row, live));
    setData(parts.next, "step", live ? (row.next?.id ?? "") : "");
    draws.chips(row.protections.map((chip) => (live ? chip : { ...chip, state: "unknown", says: "unknown", next: false })));
    draws.badges(badges(row, live));
    draws.buttons(live ? row.commands : []);
  }

  function drawSteps(row, live, sure) {
    const irregular = row.stage === "irregular";
    show(parts.irregular, irregular);
    show(parts.steps, !irregular);
    setData(parts.irregular, "sure", sure ? "yes" : "no");
    setText(parts.irregularWord, sure || !live ? "Irregular" : "Not proven");
    setText(parts.irregularSays, sure || !live ? "Locked, but not lined for the main" : "Wiring fault: treat as red");
    setText(parts.stageSays, stageText(row, live));
    draws.steps(row.steps.map((step) => ({ ...step, sure, next: live && row.next?.id === row.switch })));
  }

  return { element: parts.element, update, tick: parts.tick };
}

function build(id) {
  const parts = {
    name: make("h2", { className: "row-name" }),
    sub: make("p", { className: "row-sub" }),
    badges: make("ul", { className: "badges plain" }),
    lamps: make("div", { className: "lamps" }),
    next: make("p", { className: "next-step" }),
    wait: make("span", { className: "wait" }),
    buttons: make("div", { className: "row-buttons" }),
    notice: make("p", { className: "notice", role: "status", hidden: "" }),
    steps: make("ol", { className: "steps plain", "aria-label": "The five steps" }),
    stageSays: make("p", { className: "stage-says" }),
    chips: make("ul", { className: "chips plain", "aria-label": "Protections" }),
  };
  parts.irregularWord = make("b");
  parts.irregularSays = make("span");
  parts.irregular = make("p", { className: "irregular", hidden: "" }, small("alarm"), parts.irregularWord, parts.irregularSays);
  parts.element = make(
    "article", { className: "row", data: { row: id } },
    make("div", { className: "row-head" }, parts.name, parts.sub, parts.badges),
    parts.lamps,
    make("div", { className: "row-next" }, make("div", { className: "next-words" }, parts.next, parts.wait), parts.buttons, parts.notice),
    make("div", { className: "row-steps" }, parts.steps, parts.irregular, parts.stageSays),
    parts.chips,
  );
  return parts;
}

function nextText(row, live) {
  if (!live) return "Not known now";
  if (!row.spur) return row.stage === "secured" ? "At rest" : row.stage_says;
  return row.next ? row.next.says : "At rest";
}

function stageText(row, live) {
  if (!live) return row.stage ? `Last known: ${row.stage === "irregular" ? "irregular" : row.stage_says.toLowerCase()}` : "Not known yet";
  if (row.stage === "irregular") return "";
  if (!row.sure) return "Not proven: wiring fault";
  return row.stage_says;
}

function badges(row, live) {
  const found = [];
  if (row.open) found.push({ kind: "open", text: row.open === 1 ? "1 violation" : `${row.open} violations`, glyph: "alarm" });
  for (const fault of row.faults) found.push({ kind: "fault", text: fault, glyph: "wire" });
  if (row.test && live) found.push({ kind: "test", text: row.test.says, glyph: "wait" });
  if (row.phase && row.phase !== "idle" && live) found.push({ kind: "phase", text: PHASES[row.phase], glyph: "go" });
  return found;
}

function badgeOf({ kind, text, glyph }) {
  return make("li", { className: `badge badge-${kind}` }, small(glyph), make("span", { text }));
}

function lampOf({ colour, shows, word, says }) {
  return make(
    "div", { className: "lamp", data: { lamp: colour, shows } },
    lamp(colour), make("p", {}, make("b", { text: word }), " ", make("span", { text: says })),
  );
}

function stepOf(step, place) {
  const item = make(
    "li", { className: "step", data: { step: step.id, state: step.state } },
    make("span", { className: "step-dot" }, step.state === "passed" ? small("done") : null),
    make("span", { className: "step-word", text: step.word }),
  );
  item.style.setProperty("--place", place);
  if (step.state === "here") {
    item.setAttribute("aria-current", "step");
    item.dataset.sure = step.sure ? "yes" : "no";
  }
  return item;
}

function chipOf(chip) {
  return make(
    "li", { className: "chip", data: { protection: chip.id, state: chip.state, next: chip.next ? "yes" : "no" } },
    thing(chip.kind, chip.state),
    make("span", { className: "chip-words" }, make("span", { className: "chip-name", text: chip.name, title: chip.name }), make("b", { text: chip.says })),
  );
}

function button(spur, { command, says }, tell) {
  const element = make("button", { type: "button", text: says, data: { command, spur } });
  return asking(element, "/api/orders", { command, spur }, tell);
}
