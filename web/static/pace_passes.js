// One pass of a speed trap, with how sure it is, which way and whose.

import { make } from "./dom.js";
import { clockText } from "./words.js";

export function passOf(pass) {
  const limit = pass.limit_says ? `limit ${pass.limit_says}` : "no limit";
  const more = [pass.toward, pass.job, pass.paused ? "so slow that it may have paused there" : ""].filter(Boolean);
  return make(
    "li", { className: "pass", data: { over: pass.over ? "yes" : "no" } },
    make("b", { text: `${pass.says} ${pass.unit}` }),
    make("span", { className: "pass-name", text: pass.name }),
    make("time", { text: clockText(pass.t_us) }),
    make("span", { className: "pass-word", text: pass.over ? `Too fast: ${limit}` : limit }),
    make("span", { className: "pass-more", text: more.join(" · ") || "direction not known" }),
  );
}
