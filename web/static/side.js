// Beside the rows: wiring faults, violations, speeds and the engine's remarks.

import { asking } from "./asking.js";
import { drawer, keyed, make, setData, setText, show } from "./dom.js";
import { small } from "./glyphs.js";
import { clockText, wallText, wallTime } from "./words.js";

const byId = (id) => document.getElementById(id);

export function createSide(sound) {
  let newest = null;
  const drawViolations = keyed(byId("violation-list"), createViolation);
  const drawFaults = drawer((faults) => fill("faults", faults.map(faultOf)));
  const drawSpeeds = drawer((speeds) => fill("speeds", speeds.map(speedOf)));
  const drawRemarks = drawer((remarks) => fill("remarks", remarks.map(remarkOf)));
  return (state, live) => {
    const all = Object.values(state.violations ?? {}).sort(byNeed);
    drawViolations(all.map((one) => [one.number, { one, live }]));
    show(byId("no-violations"), !state.open_count);
    const last = Math.max(0, ...all.map((one) => one.number));
    if (newest !== null && last > newest) sound.ring("violation");
    newest = last;
    drawFaults(state.faults ?? []);
    drawSpeeds((state.speeds ?? []).slice(0, 5));
    drawRemarks((state.remarks ?? []).slice(0, 5));
  };
}

// Newest first; the acknowledged ones recede below those that still wait.
function byNeed(a, b) {
  return a.acknowledged - b.acknowledged || b.number - a.number;
}

function fill(id, items) {
  byId(id).replaceChildren(...items);
  show(byId(`${id}-part`), items.length > 0);
}

function createViolation(number) {
  const parts = {
    title: make("h3"),
    when: make("p", { className: "when" }),
    said: make("p", { className: "said" }),
    happened: make("p", { className: "happened" }),
    means: make("p"),
    why: make("p", { className: "why" }),
    sources: make("details", { className: "sources" }),
    notice: make("p", { className: "notice", role: "status", hidden: "" }),
  };
  const tell = (text) => {
    setText(parts.notice, text);
    show(parts.notice, Boolean(text));
  };
  const button = make("button", { type: "button", text: "Acknowledge", data: { acknowledge: number } });
  const note = make("input", { id: `note-${number}`, maxlength: "500", autocomplete: "off", placeholder: "such as: showed them how" });
  const noted = make(
    "details", { className: "with-note" }, make("summary", { text: "With a note" }),
    make("label", { for: `note-${number}`, text: "Note for the log" }), note,
  );
  note.addEventListener("keydown", (event) => event.key === "Enter" && button.click());
  noted.addEventListener("toggle", () => noted.open && note.focus());
  asking(button, "/api/orders", () => acknowledgement(number, note.value.trim()), tell);
  const body = make(
    "div", { className: "violation-body" }, parts.happened, parts.means, parts.why, parts.sources, button, noted, parts.notice,
  );
  const glyph = make("span", { className: "violation-glyph" });
  const element = make(
    "li", { className: "violation", data: { violation: number } },
    make("div", { className: "violation-head" }, glyph, parts.title, parts.when), parts.said, body,
  );
  const drawWhen = drawer((one) => parts.when.replaceChildren(...whenParts(one)));
  const drawSources = drawer((sources) => parts.sources.replaceChildren(...sourceLines(sources)));
  const drawGlyph = drawer((done) => glyph.replaceChildren(small(done ? "done" : "alarm")));

  function update({ one, live }) {
    setData(element, "acknowledged", one.acknowledged ? "yes" : "no");
    setData(element, "rule", one.rule);
    drawGlyph(one.acknowledged);
    setText(parts.title, one.title);
    drawWhen(one);
    setText(parts.said, one.note ? `Note: ${one.note}` : "");
    show(parts.said, Boolean(one.note));
    setText(parts.happened, one.happened);
    setText(parts.means, one.means);
    setText(parts.why, `Why: ${one.why}`);
    drawSources(one.sources);
    show(body, !one.acknowledged);
    show(button, live);
    show(noted, live);
  }
  return { element, update };
}

function acknowledgement(violation, note) {
  return { command: "acknowledge", violation, ...(note ? { note } : {}) };
}

// Session time first, as everywhere on the board; then the reader's own clock.
function whenParts(one) {
  const place = one.acknowledged ? `${one.at_name} · ` : "";
  const times = one.times > 1 ? ` · ${one.times} times, last ${clockText(one.last_us)}` : "";
  const seen = one.acknowledged ? ` · acknowledged ${clockText(one.acknowledged_us)}` : "";
  const wall = make("time", { text: wallText(one.wall_us), datetime: wallTime(one.wall_us) });
  return [`${place}${clockText(one.t_us)} (`, wall, `)${times}${seen}`];
}

function sourceLines(sources) {
  const names = sources.map((source) => source.name).join("; ") || "none known";
  const label = sources.length > 1 ? "Sources" : "Source";
  return [
    make("summary", { text: `${label}: ${names}` }),
    ...sources.map((source) => make("p", {}, make("b", { text: source.name }), ` – ${source.says}`)),
    make("p", { className: "quiet", text: "Full-size rules in our own words; here they are reasons, not law." }),
  ];
}

function faultOf(fault) {
  return make(
    "li", { className: "fault", data: { fault: fault.fault, at: fault.at } }, small("wire"),
    make("div", {}, make("h3", { text: fault.title }), make("p", { text: fault.says })),
  );
}

function speedOf(pass) {
  const word = pass.over ? `too fast, limit ${pass.limit_says}` : pass.limit_says ? `limit ${pass.limit_says}` : "";
  const more = [pass.toward, pass.job, pass.paused ? "may have paused there" : ""].filter(Boolean).join(" · ");
  return make(
    "li", { data: { over: pass.over ? "yes" : "no" } },
    make("span", { className: "pass-name", text: pass.name }), make("time", { text: clockText(pass.t_us) }),
    make("b", { text: pass.says }), make("span", { className: "pass-word", text: `${pass.unit}${word ? `, ${word}` : ""}` }),
    more ? make("span", { className: "pass-more", text: more }) : null,
  );
}

function remarkOf(remark) {
  const when = remark.t_us === null ? wallText(remark.wall_us) : clockText(remark.t_us);
  return make("li", {}, make("time", { text: when }), make("span", { text: remark.text }));
}
