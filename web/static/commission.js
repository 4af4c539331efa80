// A commissioning on a phone: what to do now in large words, and its answers under the thumb.

import { answersOf, buttonsOf, moreOf } from "./commission_answers.js";
import { ask } from "./commission_asks.js";
import { findingItem, levelItem, outputBoxes, recordItem, standItem } from "./commission_draw.js";
import { CommissionStream } from "./commission_stream.js";
import { alarmOf, stepOf } from "./commission_words.js";
import { Voice } from "./crew_voice.js";
import { drawer, make, setData, setText, show } from "./dom.js";

const byId = (id) => document.getElementById(id);
const SURE_MS = 5000;
const FIELDS = ["by_whom", "place", "equipment", "repairs", "condition_left"];

const voice = new Voice();
const form = byId("sign");
let speaks = false;
let spoken = "";
let filledFor = null; // The step whose usual words the record's fields hold.

const draws = {
  answers: drawer(drawAnswers),
  more: drawer(({ all }) => byId("more").replaceChildren(...buttonsOf(all, press))),
  levels: drawer((levels) => byId("levels").replaceChildren(...Object.entries(levels).map(levelItem))),
  findings: drawer((all) => byId("findings").replaceChildren(...(all.length ? all.map(findingItem) : [make("li", { text: "No fault was found." })]))),
  stands: drawer(({ stands, over, may }) => byId("stands").replaceChildren(...stands.map((one) => standItem(one, over[one.name] ?? 0, may ? repeat : null)))),
  records: drawer((all) => byId("records").replaceChildren(...all.map(recordItem))),
  outputs: drawer(({ stands }) => byId("outputs").replaceChildren(...outputBoxes(stands))),
  usual: drawer(fill),
};

const stream = new CommissionStream(draw);
setInterval(() => draw(stream), 500);
draw(stream);

function draw(now) {
  const { view, connected } = now;
  const sitting = view?.sitting ?? null;
  const shown = now.live ? sitting.shown : null;
  const word = connected ? view.word : "lost";
  setData(document.body, "connected", connected ? "yes" : "no");
  setData(document.body, "live", now.live ? "yes" : "no");
  setData(document.body, "word", word);
  if (view || now.lost) setData(document.body, "heard", "yes");
  drawAlarm(alarmOf(now, word));
  drawStep(stepOf(now, word), shown);
  if (!view) return;
  setText(byId("layout"), sitting?.about.layout ?? byId("layout").textContent);
  drawProgress(shown);
  draws.levels(shown?.state === "asking" ? shown.levels : {});
  const number = shown?.asked.number ?? 0;
  draws.answers({ all: connected ? answersOf(view) : [], number });
  const more = connected ? moreOf(view) : [];
  draws.more({ all: more, number: more.length ? number : 0 });
  show(byId("more-part"), more.length > 0);
  drawEnd(shown);
  const asking = shown?.state === "asking";
  draws.stands({ stands: sitting?.about.stands ?? [], over: shown?.over ?? {}, may: asking });
  show(byId("stands-part"), asking);
  if (sitting) draws.outputs({ stands: sitting.about.stands });
  if (!asking || !["dark", "look"].includes(shown.asked.step)) show(byId("else-part"), false);
  draws.records(view.records);
  show(byId("no-records"), view.records.length === 0);
  show(byId("begin-part"), connected && ["none", "ended", "silent"].includes(word));
  setText(byId("command"), sitting?.about.again ?? "spurlock commission my-layout.toml --phone");
}

function drawAlarm([head, text]) {
  show(byId("alarm"), Boolean(head));
  setText(byId("alarm-head"), head);
  setText(byId("alarm-text"), text);
}

function drawStep(step, shown) {
  const card = byId("step");
  const number = String(shown?.asked.number ?? "");
  if (card.dataset.number !== number) turnTo(number, shown);
  setData(card, "kind", step.kind);
  setData(card, "step", shown?.state === "asking" ? shown.asked.step : "");
  setData(card, "about", shown?.asked.about ?? "");
  setData(card, "number", number);
  setText(byId("place"), step.place);
  setText(byId("says"), step.says);
  if (byId("how").textContent !== step.how) byId("how").replaceChildren(step.how);
  if (step.link) byId("how").replaceChildren(make("a", { href: step.link, text: step.how }));
  setText(byId("remark"), step.remark);
  show(byId("again"), step.again);
  speak(`${step.remark} ${step.aloud}`.trim());
}

function turnTo(number, shown) {
  show(byId("else-part"), false);
  tell("");
  if (number && shown.asked.step !== "finished" && !form.contains(document.activeElement)) scrollTo({ top: 0 });
}

function drawProgress(shown) {
  show(byId("progress-part"), shown !== null);
  if (shown === null) return;
  const { done, of } = shown.asked;
  setText(byId("progress-text"), `${done} of ${of} wires`);
  byId("progress").max = Math.max(of, 1);
  byId("progress").value = done;
}

function drawAnswers({ all }) {
  const part = byId("answers");
  const focused = part.contains(document.activeElement);
  part.replaceChildren(...buttonsOf(all, press));
  setData(part, "count", all.length);
  if (focused) (part.querySelector("button") ?? byId("step")).focus({ preventScroll: true });
}

function drawEnd(shown) {
  const finished = shown?.asked.step === "finished";
  show(byId("findings-part"), finished);
  draws.findings(finished ? shown.findings : []);
  const signs = finished && shown.state === "asking" && shown.usual !== null;
  show(byId("sign-part"), signs);
  draws.usual(signs ? { number: shown.asked.number, usual: shown.usual } : null);
}

// What a record usually says is written into its fields once; what the builder writes there stays.
function fill(end) {
  if (end === null || filledFor === end.number) return;
  filledFor = end.number;
  for (const name of FIELDS) {
    if (name !== "by_whom" || !form.elements[name].value) form.elements[name].value = end.usual[name];
  }
}

async function press({ body, sure }, button) {
  if (body.open) return open();
  if (sure && button.dataset.sure !== "yes") return makeSure(button, sure);
  button.setAttribute("aria-disabled", "true");
  await send(body);
  return button.removeAttribute("aria-disabled");
}

async function send(body) {
  const { sitting } = stream.view;
  tell("");
  const trouble = await ask({ sitting: sitting.id, number: sitting.shown.asked.number, ...body });
  tell(trouble);
  return trouble;
}

function repeat(stand) {
  return send({ say: "repeat", stand });
}

function makeSure(button, sure) {
  const words = button.textContent;
  setData(button, "sure", "yes");
  setText(button, sure);
  setTimeout(() => {
    setData(button, "sure", "no");
    setText(button, words);
  }, SURE_MS);
}

function open() {
  const about = stream.view.sitting.shown.asked.about;
  for (const box of byId("outputs").querySelectorAll("input")) box.checked = box.value === about;
  show(byId("else-part"), true);
  byId("else-part").scrollIntoView({ block: "start" });
  byId("outputs").querySelector("input")?.focus({ preventScroll: true });
}

byId("else").addEventListener("submit", (event) => {
  event.preventDefault();
  const seen = [...byId("outputs").querySelectorAll("input:checked")].map((box) => box.value);
  if (seen.length) send({ say: "seen", seen });
  else tell("Tick what is on first.");
});

form.addEventListener("submit", async (event) => {
  event.preventDefault();
  const usual = stream.view?.sitting?.shown.usual ?? {};
  const written = (name) => form.elements[name].value.trim();
  // What was left as it was goes blank: the sitting knows it, however long it is.
  const untouched = (name) => name !== "by_whom" && written(name) === usual[name];
  const signing = Object.fromEntries(FIELDS.map((name) => [name, untouched(name) ? "" : written(name)]));
  form.elements.by_whom.toggleAttribute("aria-invalid", !signing.by_whom);
  if (!signing.by_whom) {
    tell("By whom? Write a name first.");
    form.elements.by_whom.focus();
    return;
  }
  await send({ say: "sign", signing });
});

function tell(text) {
  setText(byId("notice"), text);
  show(byId("notice"), Boolean(text));
}

show(byId("voice"), voice.canSpeak);
byId("voice").addEventListener("click", () => {
  speaks = !speaks;
  byId("voice").setAttribute("aria-pressed", String(speaks));
  spoken = "";
  if (speaks) voice.wake();
  else voice.hush();
  draw(stream);
});

function speak(text) {
  if (!speaks || text === spoken) return;
  spoken = text;
  voice.say(text, { now: true });
}
