// The boxes of a club, on a board that has many: who guards, and who is not to be believed.

import { drawer, make, show } from "./dom.js";
import { small } from "./glyphs.js";

const byId = (id) => document.getElementById(id);
const ALL_SHOWN = 8;

export function createBoxes() {
  const draw = drawer((boxes) => byId("box-list").replaceChildren(...boxes.map(boxOf)));
  return (nodes, live) => {
    const boxes = Object.values(nodes ?? {}).map((node) => seen(node, live));
    show(byId("boxes-part"), boxes.length > 0);
    draw(boxes.length > ALL_SHOWN ? few(boxes) : boxes);
  };
}

function seen({ name, title, state, says, clock_says }, live) {
  if (!live) return { name, title, well: false, says: "not known; treat its switches as red" };
  return { name, title, well: state === "guarding", says: [says, clock_says].filter(Boolean).join("; "), clock: Boolean(clock_says) };
}

// Of many, those that need a look, and how many do not.
function few(boxes) {
  const look = boxes.filter((box) => !box.well || box.clock);
  const rest = boxes.length - look.length;
  const sum = { name: "", title: `${rest} ${look.length ? "others" : "boxes"}`, well: true, says: "guard" };
  return rest ? [...look, sum] : look;
}

function boxOf({ name, title, well, says }) {
  const words = make("span", {}, make("b", { text: well ? title : `${title}:` }), ` ${says}`);
  return make("li", { className: "fact", data: { state: well ? "well" : "bad", box: name } }, small(well ? "done" : "unknown"), words);
}
