// A trap's corrected distance, from a train timed over a long one.

import { make } from "./dom.js";
import { send } from "./jobs-asking.js";
import { FormError, numberIn, submitting, textIn } from "./pace_forms.js";

const byId = (id) => document.getElementById(id);

export function startCalibration() {
  const say = (text) => byId("cal-answer").replaceChildren(make("p", { className: "notice", text }));
  submitting(byId("calibration-form"), say, async () => {
    const shown = textIn("cal-shown").split(/[,;\s]+/).filter(Boolean).map(Number);
    if (shown.some((one) => !(one > 0))) throw new FormError("Write the speeds as numbers with commas between, such as 9.8, 9.9.");
    const body = { trap: byId("cal-trap").value, shown, distance_mm: numberIn("cal-distance"), seconds: numberIn("cal-seconds") };
    const { said, error } = await send("/api/pace/calibration", body);
    if (error) return say(error);
    const sure = said.sigma_mm === null ? "One pass only: another would show how sure it is." : `One standard deviation is ${said.sigma_mm} mm.`;
    return byId("cal-answer").replaceChildren(
      make("p", { text: `The layout file says ${said.was_mm} mm. In its [[trap]] table of "${said.trap}", put:` }),
      make("p", {}, make("code", { className: "line", text: said.line })),
      make("p", { className: "quiet", text: sure }),
    );
  });
  let traps = [];
  return {
    draw(now) {
      traps = now;
      byId("cal-trap").replaceChildren(...traps.map((trap) => make("option", { value: trap.id, text: `${trap.name} (${trap.distance_mm} mm)` })));
    },
    // What the chosen trap has shown is offered while nobody has typed anything.
    passed(speeds) {
      const field = byId("cal-shown");
      const mine = speeds.filter((one) => one.at === byId("cal-trap").value).map((one) => one.mph);
      field.placeholder = mine.length ? mine.slice(0, 5).join(", ") : "9.8, 9.9, 9.7";
    },
  };
}
