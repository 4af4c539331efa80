// Jobs in and out as files.

import { make, setText, show } from "./dom.js";
import { send } from "./jobs-asking.js";
import { ask, press } from "./jobs-dialog.js";

const LARGEST = 60_000;

export async function exportJobs(tell, trouble) {
  try {
    const response = await fetch("/api/jobs/export.toml");
    if (!response.ok) throw new Error((await response.json()).error);
    const link = make("a", { href: URL.createObjectURL(await response.blob()), download: "jobs.toml" });
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
    tell("The jobs are in the file jobs.toml, with their notes.");
  } catch (error) {
    trouble(`Nothing was exported: ${error.message}.`);
  }
}

// Resolves to how many jobs came in; null if none did.
export function importJobs(present) {
  return ask("Import jobs", (close) => form(present, close));
}

function form(present, close) {
  const file = make("input", { id: "import-file", type: "file", accept: ".toml,text/plain" });
  const text = make("textarea", { id: "import-text", rows: "8", spellcheck: "false", autocapitalize: "off", wrap: "off" });
  const replace = make("input", { id: "import-replace", type: "checkbox" });
  const wrong = make("div", { className: "import-wrong", role: "alert", hidden: "" });
  const take = press("Take them in", () => submit(), "take");
  file.addEventListener("change", async () => {
    if (file.files[0]) text.value = await file.files[0].slice(0, 1_000_000).text();
  });

  async function submit() {
    if (take.getAttribute("aria-disabled") === "true") return;
    if (!text.value.trim()) return tellWrong(wrong, "Choose a file, or paste its text first.");
    if (new TextEncoder().encode(JSON.stringify(text.value)).length > LARGEST) {
      return tellWrong(wrong, "This file is too large for the page. On the box, run: spurlock jobs LOGBOOK --import FILE");
    }
    take.setAttribute("aria-disabled", "true");
    const answer = await send("/api/jobs/import", { toml: text.value, replace: replace.checked });
    take.setAttribute("aria-disabled", "false");
    if (!answer.error) return close(answer.said.ids.length);
    return tellWrong(wrong, answer.wrong ? "Nothing was taken in. Mend this in the file:" : answer.error, answer.wrong ?? []);
  }

  return [
    make("p", { className: "quiet", text: "A file that this page has exported, or one written by hand. Either all of its jobs come in, or none." }),
    make("div", { className: "field" }, make("label", { for: "import-file", text: "File" }), file),
    make("div", { className: "field" }, make("label", { for: "import-text", text: "Or its text" }), text),
    present ? make("label", { className: "check" }, replace, make("span", {}, make("b", { text: "Put them in the place of the list" }), " ", make("span", { className: "hint", text: "Jobs of the same name keep their crews' links; the others are dropped." }))) : null,
    wrong,
    make("div", { className: "dialog-buttons" }, take, press("Cancel", () => close(null), "no", true)),
  ].filter(Boolean);
}

function tellWrong(place, text, lines = []) {
  const list = make("ul");
  list.append(...lines.map((line) => make("li", { text: line })));
  const said = make("p", { className: "notice" });
  setText(said, text);
  place.replaceChildren(said, ...(lines.length ? [list] : []));
  show(place, true);
  place.scrollIntoView({ block: "nearest" });
}
