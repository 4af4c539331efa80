// A host alone, led by voice: each new step is spoken, and what no contact sees passes by itself.

import { Voice } from "./crew_voice.js";
import { carsAloud, sentence } from "./crew_words.js";
import { setData, setText, show } from "./dom.js";
import { spanText } from "./words.js";

const byId = (id) => document.getElementById(id);
const PASSES_AFTER_MS = 6000;
const REMIND_MS = 40_000;
const WAITING_MS = 20_000;
const ANSWER_MS = 9000; // Alone, the host is the foreman as well: he looks, and then answers.

export function createAlone(actions) {
  const voice = new Voice();
  let shown = new URLSearchParams(location.search).get("alone") === "1";
  let listening = false;
  let stream = null;
  let spoken = ""; // The step that was said last.
  let saidAt = 0;
  let passesAt = null;
  let answersAt = null;
  let told = null; // Violations that were told; null before the first look.
  let worked = new Set(); // Outputs worked by hand that were told.
  let lost = false;

  byId("alone").addEventListener("click", () => {
    shown = !shown;
    if (!shown) stop();
    draw();
  });
  byId("listen").addEventListener("click", () => (listening ? stop() : start()));
  byId("again").addEventListener("click", () => sayStep(true));
  byId("say-why").addEventListener("click", () => voice.say(why(), { now: true }));
  byId("alone").disabled = false; // Before this a press would have been lost.
  draw();

  function start() {
    listening = true;
    spoken = "";
    told = null;
    voice.wake();
    keepAwake();
    draw();
    if (stream) update(stream);
  }

  function stop() {
    listening = false;
    passesAt = answersAt = null;
    voice.hush();
    draw();
  }

  function draw() {
    setData(document.body, "alone", shown ? "yes" : "no");
    setData(byId("voice"), "listening", listening ? "yes" : "no");
    byId("alone").setAttribute("aria-pressed", String(shown));
    show(byId("voice"), shown);
    setText(byId("voice-says"), words());
    setText(byId("listen"), listening ? "Stop listening" : "Start listening");
    show(byId("again"), listening && voice.canSpeak);
    show(byId("say-why"), listening && voice.canSpeak);
    show(byId("passes"), false);
  }

  function words() {
    const mute = "This browser can't speak, so the steps are only shown; a tone sounds at a broken rule.";
    if (listening) return voice.canSpeak ? "Led by voice. What no contact sees passes by itself." : mute;
    if (!voice.canSpeak) return mute;
    return "Led by voice: each step is spoken, and you keep your hands free. A browser wants one tap before it may sound.";
  }

  function why() {
    const step = stream?.view?.next;
    if (!step?.why) return "There is nothing more to say about it.";
    return step.source ? `${step.why} ${step.source.name} says: ${step.source.says}` : step.why;
  }

  function update(now) {
    stream = now;
    if (!listening || !now.view) return;
    if (!now.connected || now.over) {
      passesAt = answersAt = null;
      if (!lost) voice.say(now.over ? sentence(now.over) : "The connection is lost. Stop. Treat every switch as red.", { now: true });
      lost = true;
      spoken = "";
      return;
    }
    if (lost) voice.say("The connection is back.", { now: true });
    lost = false;
    tellBroken(now.view.violations);
    tellByHand(now.view.by_hand);
    const key = keyOf(now.view);
    if (key !== spoken) sayStep(false);
  }

  function tellBroken(violations) {
    const before = told;
    told = new Set(violations.map((one) => one.number));
    const fresh = before === null ? [] : violations.filter((one) => !before.has(one.number));
    if (!fresh.length) return;
    voice.tone();
    fresh.forEach(({ title, happened, means }, place) => voice.say(`Attention. ${title}. ${happened} ${means}`, { now: place === 0 }));
    saidAt = performance.now();
    if (passesAt !== null) passesAt = saidAt + 2 * PASSES_AFTER_MS;
  }

  function tellByHand(hands) {
    const fresh = Object.entries(hands).filter(([name]) => !worked.has(name));
    worked = new Set(Object.keys(hands));
    for (const [, { called, hint }] of fresh) voice.say(`Attention. ${called} is worked by hand. ${hint}`);
  }

  async function sayStep(again) {
    const view = stream?.view;
    if (!view) return;
    const key = keyOf(view);
    spoken = key;
    saidAt = performance.now();
    passesAt = answersAt = null;
    // Alone, nobody else can be at work where only a guess says so.
    const mine = view.actions.find((action) => action.step === "here");
    if (mine) return void actions.press(mine);
    await voice.say(aloud(view), { now: again });
    if (!listening || key !== keyOf(stream.view)) return;
    saidAt = performance.now();
    if (view.next.passes) passesAt = saidAt + PASSES_AFTER_MS;
    if (hostIsForeman(view)) answersAt = saidAt + ANSWER_MS;
  }

  function tick(now) {
    if (!listening || !now.live || now.view === null) return;
    const time = performance.now();
    drawPassing(time);
    if (passesAt !== null && time >= passesAt) return pass(now.view);
    if (answersAt !== null && time >= answersAt) return answer(now.view);
    const waits = now.view.next.kind === "wait" || now.view.gauges.some((gauge) => gauge.id !== "speed");
    if (now.view.next.kind !== "done" && time - saidAt > (waits ? WAITING_MS : REMIND_MS)) remind(now, waits);
  }

  function drawPassing(time) {
    show(byId("passes"), passesAt !== null);
    if (passesAt !== null) setText(byId("passes"), `Passes by itself in ${Math.max(0, Math.ceil((passesAt - time) / 1000))} s.`);
  }

  function pass(view) {
    passesAt = null;
    show(byId("passes"), false);
    const main = view.actions.find((action) => action.main);
    if (main) actions.press(main).then((trouble) => trouble && voice.say(trouble));
  }

  async function answer(view) {
    answersAt = null;
    const host = await import("./host.js");
    await host.refreshHost();
    if (!host.isHost()) {
      voice.say("The foreman's answer is yours to give: sign in as the host on this device, or answer at the board.");
      return;
    }
    const body = { command: "release", spur: view.at.spur };
    const response = await host.hostFetch("/api/orders", { body });
    if (!response.ok) voice.say("The foreman's answer could not be given. Answer at the board.");
  }

  function remind({ view, now }, waits) {
    saidAt = performance.now();
    if (!waits) return voice.say(`Still to do. ${sentence(view.next.says)}`);
    return voice.say(waitAloud(view, stream.now()) || `Still waiting. ${sentence(view.next.says)}`);
  }

  return { update, tick };
}

function keyOf({ next, at }) {
  return `${at?.stop ?? ""} ${next.id} ${next.says}`;
}

function aloud(view) {
  const { next, at, stops } = view;
  const stop = at ? stops[at.stop] : null;
  const cars = next.kind === "work" && stop ? carsAloud(stop) : "";
  const note = next.kind === "work" && stop?.note ? `The note says: ${sentence(stop.note)}` : "";
  const stand = next.at_stand && next.kind !== "do" ? "The button at the stand ends the work." : "";
  return [cars || sentence(next.says), next.how, note, stand].filter(Boolean).join(" ");
}

// Where the foreman is a person, a host alone is that person.
function hostIsForeman({ next, gauges }) {
  const asked = gauges.find((gauge) => gauge.id === "foreman");
  return next.id === "foreman" && next.kind === "wait" && asked !== undefined && asked.latest_us === null;
}

function waitAloud({ gauges }, now) {
  const said = gauges.filter((gauge) => gauge.id !== "speed" && gauge.since_us <= now && !(gauge.until_us <= now));
  return said
    .map((gauge) => {
      const end = gauge.until_us ? `${spanText(gauge.until_us - now)} more` : `for ${spanText(now - gauge.since_us)} so far`;
      return sentence(`${gauge.says}: ${end.replace(/ s\b/, " seconds").replace(" min", " minutes")}`);
    })
    .join(" ");
}

// So that the phone does not fall asleep in a pocket; where it may not be asked, it is not.
async function keepAwake() {
  try {
    await navigator.wakeLock?.request("screen");
  } catch {
    // The phone's own choice; the page comes back when it is woken.
  }
}
