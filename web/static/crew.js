// One job on a phone: the page of a crew that has never seen the layout.

import { Actions } from "./crew_actions.js";
import { createAlone } from "./crew_alone.js";
import { carsOf, keyItem, lampOf, stopItem, violationItem } from "./crew_draw.js";
import { createGauges } from "./crew_gauges.js";
import { JobStream } from "./crew_stream.js";
import { drawByHand } from "./by_hand.js";
import { drawer, make, setData, setText, show } from "./dom.js";
import { small } from "./glyphs.js";
import { sentence } from "./crew_words.js";

const byId = (id) => document.getElementById(id);
const TICK_MS = 250;
const FIRST_WORD_MS = 2500;
const BY_ITSELF = "This page goes on by itself when that is done.";
const STALE = { id: "stale", kind: "wait", says: "Stop. Treat every switch as red.", how: "", why: "", source: null };

const gauges = createGauges(byId("gauges"));
const draws = {
  facts: drawer((all) => byId("job-facts").replaceChildren(...all.map((text) => make("span", { text })))),
  broken: drawer(drawBroken),
  faults: drawer((all) => byId("faults").replaceChildren(...all.map(faultItem))),
  lamps: drawer((all) => byId("lamps").replaceChildren(...all.map(lampOf))),
  stops: drawer((all) => byId("stops").replaceChildren(...all.map((stop) => stopItem(stop, backTo)))),
  cars: drawer((stop) => byId("cars").replaceChildren(...carsOf(stop))),
  keys: drawer((all) => byId("keys").replaceChildren(...all.map(keyItem))),
  main: drawer(drawMain),
  more: drawer((all) => byId("more").replaceChildren(...all.map(moreButton))),
};

const stream = new JobStream(document.body.dataset.link, draw);
const actions = new Actions(stream.path, byId("notice"));
const alone = createAlone(actions);
setInterval(tick, TICK_MS);
draw(stream);

function tick() {
  gauges.tick(stream.live ? stream.now() : null);
  alone.tick(stream);
  if (!stream.view) drawAlarm(stream);
}

function draw(now) {
  const view = now.view;
  setData(document.body, "live", now.live ? "yes" : "no");
  setData(document.body, "connected", now.connected ? "yes" : "no");
  drawAlarm(now);
  drawByHand(byId("by-hand"), view?.by_hand);
  if (view) {
    setData(document.body, "heard", "yes");
    drawJob(view, now);
  }
  alone.update(now);
  tick();
}

function drawJob(view, { live, connected, over }) {
  const { job, at } = view;
  document.title = `${job.name} · Spurlock`;
  setText(byId("job-name"), job.name);
  draws.facts(facts(view));
  const step = connected && !over ? view.next : STALE;
  drawStep(step, at);
  setText(byId("after"), view.after);
  show(byId("after-part"), live && Boolean(view.after));
  draws.broken(connected ? view.violations : []);
  draws.faults(live ? view.faults : []);
  show(byId("lamp-part"), live && view.lamp !== null);
  if (live && view.lamp) {
    setText(byId("lamp-at"), view.lamp.at);
    draws.lamps([view.lamp, view.white].filter(Boolean));
  } else {
    draws.lamps([]);
  }
  gauges.update(live ? view.gauges : []);
  drawCars(view);
  draws.stops(view.stops);
  setText(byId("train"), train(job));
  show(byId("train"), Boolean(train(job)));
  show(byId("no-stops"), view.stops.length === 0);
  draws.keys(view.keys);
  show(byId("keys-part"), view.keys.length > 0);
  const offered = live ? view.actions : [];
  const rest = offered.filter((action) => !action.main);
  draws.main({ action: offered.find((action) => action.main) ?? null, live, kind: step.kind });
  draws.more(rest);
  show(byId("more-part"), rest.length > 0);
}

function facts({ job, at, stops }) {
  const where = at ? `Stop ${at.stop + 1} of ${stops.length}` : "";
  return [where, job.crew].filter(Boolean);
}

function train({ cars, rear }) {
  const count = cars ? `A train of ${cars} ${cars === 1 ? "car" : "cars"}` : "";
  const end = { marker: "a marker at the rear", caboose: "a caboose at the rear" }[rear] ?? "";
  return [count, end].filter(Boolean).join(", ");
}

// One line on the page, so that the next step stays in sight; the words are a tap away.
function drawBroken(violations) {
  const titles = violations.map((one) => one.title);
  const last = titles[0]?.toLowerCase();
  const head = titles.length === 1 ? `A rule was broken: ${last}` : `${titles.length} rules were broken: ${last} last`;
  setText(byId("broken-head"), titles.length ? head : "");
  byId("broken-glyph").replaceChildren(small("alarm"));
  byId("broken").replaceChildren(...violations.map(violationItem));
  show(byId("broken-part"), titles.length > 0);
}

function drawStep(step, at) {
  const card = byId("step");
  if (card.dataset.step !== step.id) turnTo(card);
  setData(card, "kind", step.kind);
  setData(card, "step", step.id);
  setText(byId("place"), at && step !== STALE ? `${at.name}, ${at.phase_says}` : "");
  setText(byId("says"), step.says);
  setText(byId("how"), step.how);
  show(byId("how"), Boolean(step.how));
  drawWhy(step);
}

// A new step is looked at from its beginning, wherever the thumb has scrolled to meanwhile.
function turnTo(card) {
  byId("why").open = false;
  const { top, bottom } = card.getBoundingClientRect();
  if (top < 0 || bottom > innerHeight) scrollTo({ top: 0 });
}

// The first sentence is always to be read; the rest and the source are a tap away.
function drawWhy({ why, source }) {
  const [, first, rest] = /^(.*?[.!?])(?:\s+(.*))?$/s.exec(why) ?? [null, why, ""];
  show(byId("why"), Boolean(why));
  setText(byId("why-first"), first ?? "");
  setText(byId("why-says"), rest ?? "");
  show(byId("why-says"), Boolean(rest));
  setText(byId("source"), source ? `${source.name}: ${source.says}` : "");
  show(byId("source"), Boolean(source));
}

function drawCars(view) {
  const stop = view.at ? view.stops[view.at.stop] : null;
  const any = Boolean(stop && (stop.pull.length || stop.spot.length || stop.note || stop.sealed));
  show(byId("work-part"), any);
  placeCars(view.next.kind === "work" || view.at?.phase === "working");
  if (!any) return;
  setText(byId("work-at"), stop.name);
  draws.cars({ pull: stop.pull, spot: stop.spot });
  setText(byId("sealed"), stop.sealed);
  show(byId("sealed"), Boolean(stop.sealed));
  setText(byId("note"), stop.note ?? "");
  show(byId("note-part"), Boolean(stop.note));
}

// While the cars are the work, they stand right under the step.
function placeCars(areTheWork) {
  const card = byId("work-part");
  const parent = document.querySelector(areTheWork ? ".crew-lead" : ".crew-rest");
  const before = areTheWork ? byId("after-part") : parent.firstElementChild;
  if (card.parentElement !== parent) parent.insertBefore(card, before);
}

function drawMain({ action, live, kind }) {
  const bar = byId("main-action");
  if (action) {
    bar.replaceChildren(button(action, "big"));
  } else {
    const text = { do: BY_ITSELF, wait: live ? "Nothing to press. Wait." : "" }[kind] ?? "";
    bar.replaceChildren(...(text ? [make("p", { className: "by-itself" }, small(kind === "do" ? "go" : "wait"), make("span", { text }))] : []));
  }
}

function moreButton(action) {
  if (action.cars === undefined) return button(action, "plain-button");
  const id = "test-cars";
  const number = make("input", { type: "number", id, min: 1, max: 500, value: action.cars, inputmode: "numeric" });
  return make("div", { className: "test" }, make("label", { for: id, text: "Cars in the test" }), number, button(action, "plain-button", () => Number(number.value)));
}

function button(action, className, cars = () => undefined) {
  const element = make("button", { type: "button", className, text: action.says, data: { action: action.id } });
  element.addEventListener("click", async () => {
    if (element.getAttribute("aria-disabled") === "true") return;
    element.setAttribute("aria-disabled", "true");
    await actions.press(action, cars());
    element.setAttribute("aria-disabled", "false");
  });
  return element;
}

function backTo(stop) {
  actions.undo("left", stop);
}

function faultItem({ title, says }) {
  return make("li", { className: "crew-fault" }, small("wire"), make("span", {}, make("b", { text: `${title}. ` }), says));
}

function drawAlarm(now) {
  const [head, text] = alarmWords(now);
  show(byId("alarm"), Boolean(head));
  setText(byId("alarm-head"), head);
  setText(byId("alarm-text"), text);
}

function alarmWords({ over, refused, connected, lost, live, view }) {
  if (over) return ["This page is over.", sentence(over)];
  // A page that has only begun to listen raises no alarm: it shows nothing yet that could be believed.
  if (!view && !lost && performance.now() < FIRST_WORD_MS) return ["", ""];
  if (!connected && refused) return ["No connection.", `${sentence(refused)} Trying again.`];
  if (!connected) return ["No connection.", view ? "What stands here is old. Trying again." : "Trying to reach the screen."];
  if (!live && view) return ["Nothing is proven now.", sentence(view.head.trouble || view.head.engine_says)];
  return ["", ""];
}
