// What the page says in each of its states.

const PLACES = { prepare: "All stands", listen: "All stands", dark: "All outputs", finished: "All stands" };
const LOST = ["No connection to the screen.", "Trying again. If the test was stopped, its command goes on with it; all that was seen is kept."];

const NOTHING = { kind: "wait", place: "Wires", says: "", how: "", remark: "", again: false, aloud: "", link: "" };
const STATES = {
  none: { says: "No test goes on", how: "Begin one at the machine that has the pins." },
  ended: { says: "The test was stopped", how: "All that was seen is kept. The same command goes on with it." },
  listening: { says: "Looking", how: "Whether the test still goes on." },
  silent: { says: "The test has died", how: "All that was seen is kept. Begin again with the same command." },
  unread: { says: "Nothing to be seen", how: "The logbook can't be read." },
  lost: { says: "Not connected", how: "What was asked last may be over." },
};

// The banner: its head and its text, both empty where all is well.
export function alarmOf({ view, lost }, word) {
  if (word === "lost") return lost ? LOST : ["", ""];
  if (word === "silent") return ["The test is not heard any more.", "Its program has stopped, or its machine is stuck."];
  return word === "unread" ? ["The logbook can't be read.", view.says] : ["", ""];
}

// What the card says.
export function stepOf(now, word) {
  if (word === "lost" && !now.lost) return { ...NOTHING, says: "Connecting" };
  const record = now.view?.sitting?.shown.record;
  if (record && ["live", "ended"].includes(word)) return signed(record);
  if (word !== "live") return { ...NOTHING, ...STATES[word], aloud: STATES[word].says };
  const { shown } = now.view.sitting;
  return shown.state === "resting" ? resting() : asked(now, shown);
}

function asked(now, { asked: step, stand, left_us: left }) {
  const kind = step.step === "finished" ? "done" : step.step === "listen" ? "wait" : "do";
  const seconds = left === null ? 0 : Math.max(0, Math.ceil(left / 1e6 - (performance.now() - now.drawnAt) / 1000));
  return {
    ...NOTHING,
    kind,
    place: stand ?? PLACES[step.step] ?? "Wires",
    says: step.text,
    how: left === null ? "" : `${seconds} s more`,
    remark: step.remark ? `Seen: ${step.remark}` : "",
    again: step.again,
    aloud: step.again ? `Once more: ${step.text}` : step.text,
  };
}

function resting() {
  return { ...NOTHING, place: "All stands", says: "Stopped for now", how: "All that was seen is kept. Bolts are shut, power is off, red is lit.", aloud: "Stopped for now." };
}

function signed(record) {
  return { ...NOTHING, kind: "done", place: "The record", says: "Signed and kept", how: "Read it, or print it", link: `/commission/records/${record}`, aloud: "The record is signed and kept." };
}
