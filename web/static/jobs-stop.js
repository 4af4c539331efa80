// One stop on the form: the spur, the cars to pull and to spot, and the industry's note.

import { make, setText, show } from "./dom.js";
import { press } from "./jobs-dialog.js";

const MOST_CARS = 60;
let counted = 0;

export function createStop(plan, from, does) {
  const mark = `stop-${(counted += 1)}`;
  const select = make("select", { id: `${mark}-spur` });
  const unknown = from && !plan.spurs.some((spur) => spur.id === from.spur);
  select.append(make("option", { value: "", text: "Choose a spur" }));
  select.append(...plan.spurs.map((spur) => make("option", { value: spur.id, text: spur.name })));
  if (unknown) select.append(make("option", { value: from.spur, text: `${from.spur} (gone from the layout)` }));
  select.value = from?.spur ?? "";
  select.addEventListener("change", does.changed);

  const note = make("textarea", { id: `${mark}-note`, rows: "3", maxlength: "2000", "aria-describedby": `${mark}-hint` });
  note.value = from?.note ?? "";
  const title = make("legend");
  const up = press("↑", () => does.move(stop, -1), "stop-up", true);
  const down = press("↓", () => does.move(stop, 1), "stop-down", true);
  const away = press("Remove", () => does.remove(stop), "stop-remove", true);
  const pull = carList(mark, "pull", "Cars to pull", "Add a car to pull", from?.pull ?? []);
  const spot = carList(mark, "spot", "Cars to spot", "Add a car to spot", from?.spot ?? []);

  const element = make(
    "li", {},
    make(
      "fieldset", { className: "stop-form", data: { stop: mark } }, title,
      make("div", { className: "stop-head" },
        make("div", { className: "field" }, make("label", { for: `${mark}-spur`, text: "Spur" }), select),
        make("div", { className: "stop-tools" }, up, down, away)),
      pull.element, spot.element,
      make("div", { className: "field" }, make("label", { for: `${mark}-note`, text: "The industry's note" }), note,
        make("p", { id: `${mark}-hint`, className: "hint", text: "Crews read it, and the places to spot, only when the gate or the box is open." })),
    ),
  );

  const stop = {
    element,
    spur: () => select.value,
    number(at, count) {
      setText(title, `Stop ${at + 1}`);
      up.disabled = at === 0;
      down.disabled = at === count - 1;
      up.setAttribute("aria-label", `Move stop ${at + 1} up`);
      down.setAttribute("aria-label", `Move stop ${at + 1} down`);
      away.setAttribute("aria-label", `Remove stop ${at + 1}`);
    },
    focus(by) {
      const wanted = by < 0 ? up : by > 0 ? down : select;
      (wanted.disabled ? select : wanted).focus();
    },
    check() {
      return select.value ? (pull.check() ?? spot.check()) : { text: `${title.textContent}: choose a spur.`, at: select };
    },
    read: () => ({ spur: select.value, pull: pull.read(), spot: spot.read(), note: note.value }),
  };
  return stop;
}

function carList(mark, name, heading, addText, from) {
  const list = make("ul", { className: "plain car-rows" });
  const rows = [];
  const add = press(addText, () => more().car.focus(), `add-${name}`, true);

  function more(car = { car: "", place: "" }) {
    const row = carRow(name, car, {
      remove: () => remove(row),
      next: () => (rows.at(-1) === row ? more() : rows[rows.indexOf(row) + 1]).car.focus(),
    });
    rows.push(row);
    list.append(row.element);
    show(add, rows.length < MOST_CARS);
    return row;
  }
  function remove(row) {
    const at = rows.indexOf(row);
    rows.splice(at, 1);
    row.element.remove();
    show(add, true);
    (rows[at] ? rows[at].car : add).focus();
  }

  from.forEach((car) => more(car));
  const element = make("div", { className: "cars-part", role: "group", "aria-labelledby": `${mark}-${name}` }, make("h4", { id: `${mark}-${name}`, text: heading }), list, make("p", {}, add));
  return {
    element,
    check() {
      const bare = rows.find((row) => !row.car.value.trim() && row.place.value.trim());
      return bare ? { text: "Say which car belongs to this place.", at: bare.car } : null;
    },
    read: () => rows.filter((row) => row.car.value.trim()).map((row) => ({ car: row.car.value.trim(), place: row.place.value.trim() })),
  };
}

function carRow(name, from, does) {
  const placeText = name === "pull" ? "Where it stands" : "Where it goes";
  const car = make("input", { type: "text", maxlength: "120", autocomplete: "off", "aria-label": `Car to ${name}`, placeholder: "Car", value: from.car, data: { car: name } });
  const place = make("input", { type: "text", maxlength: "120", autocomplete: "off", "aria-label": placeText, placeholder: placeText, value: from.place, data: { place: name } });
  const away = press("×", does.remove, "car-remove", true);
  away.setAttribute("aria-label", "Remove this car");
  for (const input of [car, place]) {
    input.addEventListener("keydown", (event) => {
      if (event.key !== "Enter" || event.isComposing) return;
      event.preventDefault(); // Enter goes on to the next car; it must not save a half-written list.
      if (input === car) place.focus();
      else does.next();
    });
  }
  return { car, place, element: make("li", { className: "car-row" }, car, place, away) };
}
