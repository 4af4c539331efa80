// How things stand, in a few words: the desk, violations, wiring, the log, and the keys.

import { drawer, make, setData, setText, show } from "./dom.js";
import { small, thing } from "./glyphs.js";
import { countText, wallText, wallTime } from "./words.js";

const byId = (id) => document.getElementById(id);

export function createFacts() {
  const drawList = drawer((facts) => byId("fact-list").replaceChildren(...facts.map(factOf)));
  const drawKeys = drawer((keys) => byId("key-list").replaceChildren(...keys.map(keyOf)));
  return (state, { live, connected, waiting }) => {
    const partly = Boolean(live && state.head?.unheard?.length);
    drawList([
      deskFact(live, waiting, partly),
      violationFact(state.open_count ?? 0, partly),
      wiringFact(state.faults ?? [], live, partly),
      logFact(state.head, connected),
    ]);
    const keys = Object.values(state.keys ?? {});
    show(byId("keys-part"), keys.length > 0);
    setText(byId("keys-summary"), keysText(keys, live));
    setData(byId("keys-part"), "out", keys.some((key) => key.state !== "home") ? "yes" : "no");
    drawKeys(live ? keys : keys.map((key) => ({ ...key, state: "unknown", says: "unknown", since_wall_us: null })));
  };
}

// Of a club whose boxes are not all heard, nobody knows that there is nothing more.
const SOMEWHERE = { glyph: "unknown", state: "look" };

function deskFact(live, waiting, partly) {
  if (!live) return { glyph: "unknown", state: "bad", says: "Desk: not known" };
  if (waiting) return { glyph: "hand", state: "look", says: `Desk: ${countText(waiting, "waits", "wait")}` };
  if (partly) return { ...SOMEWHERE, says: "Desk: nobody known to wait" };
  return { glyph: "done", state: "well", says: "Desk: nobody waits" };
}

function violationFact(open, partly) {
  if (!open && partly) return { ...SOMEWHERE, says: "Violations: none known" };
  if (!open) return { glyph: "done", state: "well", says: "Violations: none open" };
  return { glyph: "alarm", state: "bad", says: `Violations: ${open} open`, href: "#violations" };
}

function wiringFact(faults, live, partly) {
  if (!live) return { glyph: "unknown", state: "bad", says: "Wiring: not known" };
  if (!faults.length && partly) return { ...SOMEWHERE, says: "Wiring: no faults known" };
  if (!faults.length) return { glyph: "done", state: "well", says: "Wiring: no faults" };
  return { glyph: "wire", state: "look", says: `Wiring: ${countText(faults.length, "fault", "faults")}`, href: "#faults-part" };
}

// The alarm across the page says more; this says where the trouble is.
function logFact(head, connected) {
  const bad = { glyph: "unknown", state: "bad" };
  if (!connected) return { ...bad, says: "Log: not known" };
  if (head.engine === "unwritten") return { ...bad, says: "Log: can't be written" };
  if (head.trouble) return { ...bad, says: "Log: can't be read" };
  if (!head.live) return { ...bad, says: "Log: engine not heard" };
  return { glyph: "done", state: "well", says: "Log: kept" };
}

function keysText(keys, live) {
  if (!live) return "Keys: not known";
  const lost = keys.filter((key) => key.state === "unknown").length;
  const out = keys.filter((key) => key.state === "out").length;
  const unknown = lost ? `, ${lost} unknown` : "";
  return out || lost ? `Keys: ${out} out${unknown}` : "Keys: all on their hooks";
}

function factOf({ glyph, state, says, href }) {
  const words = href ? make("a", { href, text: says }) : make("span", { text: says });
  return make("li", { className: "fact", data: { state } }, small(glyph), words);
}

function keyOf(key) {
  const fits = key.fits.length ? `fits ${key.fits.join(", ")}` : "fits nothing here";
  const since = key.since_wall_us === null ? null : make("time", { text: `since ${wallText(key.since_wall_us)}`, datetime: wallTime(key.since_wall_us) });
  return make(
    "li", { className: "key", data: { key: key.id, state: key.state } },
    thing("key", key.state === "home" ? "on" : key.state === "out" ? "off" : "unknown"),
    make("p", {}, make("b", { text: key.name }), ` ${key.says} `, since, make("span", { className: "quiet", text: ` ${fits}` })),
  );
}
