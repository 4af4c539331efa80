// The keys of a job: those that its stops need are ticked by themselves until the host says else.

import { make, setText } from "./dom.js";

export function createKeys(plan, job) {
  const touched = new Set();
  const rows = plan.keys.map((key) => {
    const input = make("input", { type: "checkbox", name: "key", value: key.id });
    const why = make("span", { className: "hint" });
    input.addEventListener("change", () => touched.add(key.id));
    const element = make("label", { className: "check" }, input, make("span", {}, make("b", { text: key.name }), " ", why));
    return { key, input, why, element };
  });
  const needs = (key, spurs) => plan.spurs.filter((spur) => spurs.includes(spur.id) && spur.keys.includes(key.id));

  if (job) {
    const spurs = job.stops.map((stop) => stop.spur);
    for (const { key, input } of rows) {
      input.checked = job.keys.includes(key.id);
      if (input.checked !== needs(key, spurs).length > 0) touched.add(key.id);
    }
  }

  function suggest(spurs) {
    for (const { key, input, why } of rows) {
      const users = needs(key, spurs);
      setText(why, users.length ? `for ${users.map((spur) => spur.name).join(", ")}` : "");
      if (!touched.has(key.id)) input.checked = users.length > 0;
    }
  }

  const element = make("div", { className: "key-list" });
  element.append(...rows.map((row) => row.element));
  return { element, suggest, read: () => rows.filter((row) => row.input.checked).map((row) => row.key.id) };
}
