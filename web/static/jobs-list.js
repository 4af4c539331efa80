// One job on the list.

import { make } from "./dom.js";

const REAR = { marker: "marker", caboose: "caboose" };

export function createCard(job, at, plan, does) {
  const spurs = new Map(plan.spurs.map((spur) => [spur.id, spur.name]));
  const keys = new Map(plan.keys.map((key) => [key.id, key.name]));
  const name = make("h3", { id: `job-${job.id}-name`, text: job.name });
  const facts = [
    job.crew ? job.crew : "no crew yet",
    job.cars === 1 ? "1 car" : `${job.cars} cars`,
    REAR[job.rear] ? `${REAR[job.rear]} at the rear` : null,
    job.keys.length ? job.keys.map((key) => keys.get(key) ?? `${key} (gone)`).join(", ") : null,
  ].filter(Boolean);
  const stops = make("ol", { className: "plain card-stops", "aria-label": "Stops" });
  stops.append(...job.stops.map((stop) => stopOf(stop, spurs)));
  const part = (does_, text, extra = {}) => button(job, does_, text, does, extra);
  return make(
    "li", { className: "job-card", data: { job: job.id } },
    make("div", { className: "card-place" },
      part("up", "↑", { "aria-label": `Move ${job.name} up`, ...(at === 0 ? { disabled: "" } : {}) }),
      make("span", { className: "card-number", text: String(at + 1) }),
      part("down", "↓", { "aria-label": `Move ${job.name} down`, ...(at === plan.jobs.length - 1 ? { disabled: "" } : {}) })),
    make("div", { className: "card-words" }, name, make("p", { className: "card-facts", text: facts.join(" · ") }), stops),
    make("div", { className: "card-buttons" },
      job.sheet ? link(job.sheet, "Sheet", `Sheet of ${job.name}`) : null,
      job.link ? link(job.link, "Crew page", `Crew page of ${job.name}`) : null,
      part("edit", "Edit", { "aria-label": `Edit ${job.name}` }),
      part("copy", "Copy", { "aria-label": `Copy ${job.name}` }),
      part("drop", "Drop", { "aria-label": `Drop ${job.name}` })),
  );
}

function stopOf(stop, spurs) {
  const does = [stop.pull.length ? `pull ${stop.pull.length}` : "", stop.spot.length ? `spot ${stop.spot.length}` : ""];
  const said = does.filter(Boolean).join(", ");
  return make(
    "li", {},
    make("b", { text: spurs.get(stop.spur) ?? `${stop.spur} (gone from the layout)` }),
    said ? make("span", { className: "quiet", text: ` ${said}` }) : null,
  );
}

function link(href, text, label) {
  return make("a", { href, text, className: "button plain-button", "aria-label": label });
}

function button(job, name, text, does, extra) {
  const element = make("button", { type: "button", id: `job-${job.id}-${name}`, className: "plain-button", text, data: { do: name }, ...extra });
  element.addEventListener("click", () => does[name](job));
  return element;
}
