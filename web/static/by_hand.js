// The band that every page shows while an output is worked by hand: what, until when, and what not to trust.

import { make, show } from "./dom.js";
import { wallText, wallTime } from "./words.js";

const drawn = new WeakMap();

export function drawByHand(element, hands) {
  const worked = Object.values(hands ?? {});
  const key = JSON.stringify(worked);
  if (drawn.get(element) === key) return;
  drawn.set(element, key);
  element.replaceChildren(...(worked.length > 1 ? [all(worked)] : worked.map(one)));
  show(element, worked.length > 0);
}

function one({ called, says, hint, until_wall_us: until }) {
  return make("p", {}, make("strong", { text: `${called} worked by hand from the bench` }), ` (${says}) until `, timeOf(until), ". ", make("span", { text: hint }));
}

// A line for each would cover a phone's page.
function all(worked) {
  const last = Math.max(...worked.map((hand) => hand.until_wall_us));
  const names = worked.map((hand) => hand.called).join(", ");
  return make(
    "p", {}, make("strong", { text: `${worked.length} outputs are worked by hand from the bench` }), " until ", timeOf(last), `: ${names}. Don't trust the lamps, bolts or track power there.`,
  );
}

function timeOf(us) {
  return make("time", { text: wallText(us), datetime: wallTime(us) });
}
