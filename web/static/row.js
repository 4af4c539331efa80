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
    crews: drawer((crews) => parts.crews.replaceChildren(...crews.map(crewOf))),
    why: drawer((why) => drawWhy(parts, why)),
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
    setText(parts.sub, subText(row, live));
    for (const [key, value] of Object.entries({ stage: row.stage, sure: sure ? "yes" : "no", phase: row.phase })) {
      setData(parts.element, key, value);
    }
    draws.lamps(live ? [row.lamp, row.white].filter(Boolean) : [row.lamp.colour === "none" ? row.lamp : DARK]);
    drawSteps(row, live, sure);
    setText(parts.next, nextText(row, live));
    setData(parts.next, "step", live ? (row.next?.id ?? "") : "");
    draws.chips(row.protections.map((chip) => (live ? chip : { ...chip, state: "unknown", says: "unknown", next: false })));
    draws.badges(badges(row, live));
    draws.crews(row.crews ?? []);
    draws.why(whyWords(row, live));
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
    crews: make("ul", { className: "row-crews plain", "aria-label": "Crews" }),
    badges: make("ul", { className: "badges plain" }),
    why: make("p", { className: "why-first" }),
    more: make("button", { type: "button", className: "why-button plain-button", "aria-expanded": "false", hidden: "" }),
    rest: make("ul", { className: "why-rest plain", hidden: "" }),
    lamps: make("div", { className: "lamps" }),
    next: make("p", { className: "next-step" }),
    wait: make("span", { className: "wait" }),
    buttons: make("div", { className: "row-buttons" }),
    notice: make("p", { className: "notice", role: "status", hidden: "" }),
    steps: make("ol", { className: "steps plain", "aria-label": "The five steps" }),
    stageSays: make("p", { className: "stage-says" }),
    chips: make("ul", { className: "chips plain", "aria-label": "Protections" }),
  };
  parts.more.addEventListener("click", () => unfold(parts, parts.rest.hidden));
  parts.irregularWord = make("b");
  parts.irregularSays = make("span");
  parts.irregular = make("p", { className: "irregular", hidden: "" }, small("alarm"), parts.irregularWord, parts.irregularSays);
  parts.element = make(
    "article", { className: "row", data: { row: id } },
    make("div", { className: "row-head" }, parts.name, parts.sub, parts.crews, parts.badges),
    parts.lamps,
    make("div", { className: "row-next" }, make("div", { className: "next-words" }, parts.next, parts.wait), parts.buttons, parts.notice),
    make("div", { className: "row-why" }, parts.why, parts.more, parts.rest),
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

function subText(row, live) {
  if (!row.spur) return "No spur";
  if (!live || row.phase === "idle") return row.switch_name;
  return row.switch_name.startsWith(row.name) ? PHASES[row.phase] : `${PHASES[row.phase]} · ${row.switch_name}`;
}

// Why the lamp is not green: the weightiest reason on the row, the others one tap away.
function whyWords(row, live) {
  if (!live) return [];
  const word = row.lamp.colour === "none" ? "Not secured" : row.lamp.word;
  return (row.why ?? []).map((reason, place) => (place ? `${reason[0].toUpperCase()}${reason.slice(1)}` : `${word}: ${reason}`));
}

function drawWhy(parts, [first, ...rest]) {
  setText(parts.why, first ?? "");
  show(parts.why, Boolean(first));
  parts.rest.replaceChildren(...rest.map((text) => make("li", { text })));
  show(parts.more, rest.length > 0);
  setText(parts.more, `${rest.length} more`);
  parts.more.setAttribute("aria-label", `${rest.length} more reasons`);
  if (!rest.length) unfold(parts, false);
}

function unfold(parts, open) {
  show(parts.rest, open);
  parts.more.setAttribute("aria-expanded", String(open));
}

// Faults and violations are counted here; why the lamp is red, and what stands beside, says them.
function badges(row, live) {
  const found = [];
  if (row.open) found.push({ kind: "open", count: row.open, text: row.open === 1 ? "violation" : "violations", glyph: "alarm" });
  if (row.faults.length) found.push({ kind: "fault", count: row.faults.length, text: row.faults.length === 1 ? "fault" : "faults", glyph: "wire" });
  if (row.test && live) found.push({ kind: "test", text: row.test.says.replace("Brake test", "Test"), glyph: "wait" });
  return found;
}

function badgeOf({ kind, count, text, glyph }) {
  const number = count ? make("span", { className: "badge-count", text: `${count} ` }) : null;
  return make("li", { className: `badge badge-${kind}` }, small(glyph), make("span", {}, number, make("span", { className: "badge-word", text })));
}

function crewOf({ name, crew, says }) {
  const words = [make("span", { className: "crew-name", text: name }), crew ? make("span", { className: "crew-of", text: ` (${crew})` }) : null];
  return make("li", { data: { says } }, small("person"), make("span", { title: crew ? `${name} (${crew})` : name }, ...words), make("span", { className: "crew-says", text: says }));
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
    "li", { className: "chip", data: { protection: chip.id, kind: chip.kind, state: chip.state, next: chip.next ? "yes" : "no" } },
    thing(chip.kind, chip.state),
    make("span", { className: "chip-words" }, make("span", { className: "chip-name", text: chip.name, title: chip.name }), make("b", { text: chip.says })),
  );
}

function button(spur, { command, says }, tell) {
  const element = make("button", { type: "button", text: says, data: { command, spur } });
  return asking(element, "/api/orders", { command, spur }, tell);
}
