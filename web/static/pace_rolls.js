// Roll tests, and what they mean for each spur.

import { make, show } from "./dom.js";
import { send } from "./jobs-asking.js";
import { numberIn, submitting, tell, textIn } from "./pace_forms.js";

const byId = (id) => document.getElementById(id);
const WAYS = { tilt: ["rise_mm", "run_mm"], ramp: ["height_mm", "to_rest_mm"], speeds: ["first_mm_s", "second_mm_s", "apart_mm"] };

export function startRolls(trouble) {
  const way = byId("roll-way");
  const pick = () => {
    for (const part of document.querySelectorAll("[data-way]")) show(part, part.dataset.way === way.value);
  };
  way.addEventListener("change", pick);
  byId("speeds-second_mm_s").dataset.zero = "yes";
  pick();
  submitting(byId("roll-form"), (text) => tell("roll-said", text), async () => {
    const measured = { way: way.value };
    const car = textIn("roll-car");
    for (const key of WAYS[way.value]) measured[key] = numberIn(`${way.value}-${key}`);
    const { said, error } = await send("/api/pace/rolls", { car, measured });
    tell("roll-said", error ?? `${car} keeps rolling from ${said.percent.toFixed(2)} % on.`);
    if (!error) await load();
  });

  async function load() {
    try {
      const response = await fetch("/api/pace/track");
      if (response.ok) draw(await response.json());
    } catch {
      trouble("The screen could not be reached; what stands here may be old.");
    }
  }

  function draw(said) {
    const least = Math.min(...said.rolls.map((roll) => roll.percent));
    byId("roll-list").replaceChildren(...said.rolls.map((roll) => rollOf(roll, roll.percent === least, load)));
    byId("spur-list").replaceChildren(...said.spurs.map((spur) => spurOf(spur, load)));
  }
  return { draw };
}

function rollOf(roll, freest, load) {
  const button = make("button", { type: "button", className: "plain-button", text: "Throw away", "aria-label": `Throw away the test of ${roll.car}` });
  button.addEventListener("click", async () => {
    const { error } = await send(`/api/pace/rolls/${roll.id}/forget`, {});
    tell("roll-said", error ?? "");
    if (!error) await load();
  });
  return make("li", {}, make("b", { text: roll.car }), make("span", { text: `keeps rolling from ${roll.percent.toFixed(2)} %${freest ? ", the freest: it decides" : ""}` }), button);
}

function spurOf(spur, load) {
  const chocks = (count) => `${count} ${count === 1 ? "chock" : "chocks"}`;
  const needs = spur.chocks ? `Needs ${chocks(spur.chocks)}, has ${spur.fitted}` : "Needs no chock";
  const facts = [["Let go", spur.let_go], ["Nudged at 4 scale mph", spur.nudged], ["Because", spur.why]];
  return make(
    "li", { className: "spur-card", data: { enough: spur.enough ? "yes" : "no", spur: spur.spur } },
    make("div", { className: "spur-head" }, make("h4", { text: `${spur.name}, ${spur.grade_percent} %` }), make("span", { className: "spur-verdict", text: spur.enough ? needs : `${needs}: too few` })),
    make("dl", {}, ...facts.flatMap(([term, text]) => [make("dt", { text: term }), make("dd", { text })])),
    placeOf(spur, load),
  );
}

function placeOf(spur, load) {
  const id = `way-${spur.spur}`;
  const cuts = `cuts-${spur.spur}`;
  const form = make(
    "form", { className: "loco-bar", novalidate: "" },
    make("div", { className: "field" }, make("label", { for: id, text: "Cars to the clearance point, mm" }), make("input", { id, type: "number", className: "short-input", inputmode: "decimal", min: "1", max: "100000", step: "any", value: String(spur.way_mm) })),
    make("div", { className: "field" }, make("label", { for: cuts, text: "Cuts standing apart" }), make("input", { id: cuts, type: "number", className: "short-input", inputmode: "numeric", min: "1", max: "50", step: "1", value: String(spur.cuts) })),
    make("button", { type: "submit", className: "plain-button", text: "Keep", "aria-label": `Keep these for ${spur.name}` }),
  );
  submitting(form, (text) => tell("roll-said", text), async () => {
    const { error } = await send("/api/pace/places", { spur: spur.spur, way_mm: numberIn(id), cuts: numberIn(cuts) });
    tell("roll-said", error ?? "");
    if (!error) await load();
  });
  return make("details", { className: "fold" }, make("summary", { text: `${spur.way_mm} mm to the clearance point, ${spur.cuts} ${spur.cuts === 1 ? "cut" : "cuts"}` }), form);
}
