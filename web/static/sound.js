// A soft tone for what waits for the host. Off until he wants it; this browser remembers.

import { setText } from "./dom.js";

const KEPT = "spurlock-sound";
const TONES = { desk: [523.25, 659.25], violation: [392, 311.13] };
const LOUD = 0.14;
const LONG_S = 0.35;

export function createSound(button) {
  let on = kept() === "on";
  let audio = null;

  function draw() {
    button.setAttribute("aria-pressed", String(on));
    setText(button, on ? "Sound: on" : "Sound: off");
  }

  // Browsers let a page sound only after somebody has touched it.
  function wake() {
    if (!on) return;
    audio ??= new AudioContext();
    if (audio.state === "suspended") audio.resume().catch(() => {});
  }

  function toggle() {
    on = !on;
    keep(on ? "on" : "off");
    draw();
    wake();
    ring("desk");
  }

  function ring(kind) {
    if (!on || !audio || audio.state === "closed") return;
    TONES[kind].forEach((pitch, place) => tone(audio, pitch, audio.currentTime + place * LONG_S));
  }

  button.hidden = !("AudioContext" in window);
  button.addEventListener("click", toggle);
  for (const touch of ["pointerdown", "keydown"]) addEventListener(touch, wake);
  draw();
  return { toggle, ring };
}

function tone(audio, pitch, at) {
  const source = audio.createOscillator();
  const loud = audio.createGain();
  source.frequency.value = pitch;
  loud.gain.setValueAtTime(0, at);
  loud.gain.linearRampToValueAtTime(LOUD, at + 0.05);
  loud.gain.exponentialRampToValueAtTime(0.001, at + LONG_S * 1.6);
  source.connect(loud).connect(audio.destination);
  source.start(at);
  source.stop(at + LONG_S * 1.6);
}

function kept() {
  try {
    return localStorage.getItem(KEPT);
  } catch {
    return null;
  }
}

function keep(word) {
  try {
    localStorage.setItem(KEPT, word);
  } catch {
    // A browser that keeps nothing asks again next time.
  }
}
