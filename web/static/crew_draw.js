// The parts of a job's page: lamps, stops, cars, keys and broken rules.

import { make } from "./dom.js";
import { lamp, small, thing } from "./glyphs.js";

const STATES = { done: "Done", current: "Now", ahead: "Ahead", left: "Left out" };

export function lampOf({ colour, shows, word, says, means }) {
  return make(
    "div", { className: "crew-lamp", data: { lamp: colour, shows } },
    lamp(colour),
    make("p", {}, make("b", { text: word }), " ", make("span", { className: "quiet", text: says }), make("span", { className: "means", text: means })),
  );
}

export function stopItem(stop, backTo) {
  const words = make("span", { className: "stop-words" }, make("b", { text: stop.name }), make("span", { className: "quiet", text: counted(stop) }));
  const item = make(
    "li", { className: "stop", data: { state: stop.state, stop: stop.stop } },
    make("span", { className: "stop-dot" }, stop.state === "done" ? small("done") : null),
    words,
    make("span", { className: "stop-state", text: STATES[stop.state] ?? stop.state }),
  );
  if (stop.state === "current") item.setAttribute("aria-current", "step");
  if (stop.state === "left") {
    const back = make("button", { type: "button", className: "plain-button", text: "Go back to it" });
    back.addEventListener("click", () => backTo(stop.stop));
    item.append(back);
  }
  return item;
}

function counted({ pull, spot }) {
  const parts = [];
  if (pull.length) parts.push(`${pull.length} to pull`);
  if (spot.length) parts.push(`${spot.length} to spot`);
  return parts.join(", ") || "no cars named";
}

export function carsOf({ pull, spot }) {
  return [["Pull", pull], ["Spot", spot]]
    .filter(([, cars]) => cars.length)
    .map(([verb, cars]) =>
      make(
        "div", { className: "car-list" },
        make("h3", { text: verb }),
        make("ul", { className: "plain" }, ...cars.map(({ car, place }) => make("li", {}, make("b", { text: car }), place ? make("span", { className: "quiet", text: ` ${place}` }) : null))),
      ),
    );
}

export function keyItem({ name, home, says }) {
  const state = home === null ? "unknown" : home ? "on" : "off";
  return make("li", { className: "crew-key", data: { home: state } }, thing("key", state), make("b", { text: name }), make("span", { className: "quiet", text: says }));
}

export function violationItem({ number, title, happened, means }) {
  return make(
    "li", { className: "broken-rule", data: { violation: number } },
    make("b", { text: title }), make("p", { text: `${happened} ${means}` }),
  );
}
