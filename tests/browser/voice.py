"""A browser's speech and sound, which only note, in order, what they are asked for."""

from __future__ import annotations

from playwright.sync_api import Page

TONE = "(tone)"
HEARD = """
window.heard = [];
window.SpeechSynthesisUtterance = class extends EventTarget {
  constructor(text) { super(); this.text = text; }
};
Object.defineProperty(window, "speechSynthesis", { value: {
  speak(said) {
    window.heard.push(said.text);
    setTimeout(() => said.dispatchEvent(new Event("end")), 20);
  },
  cancel() {},
} });
const curve = { value: 0, setValueAtTime() {}, exponentialRampToValueAtTime() {} };
window.AudioContext = class {
  currentTime = 0;
  resume() {}
  createGain() { return { gain: curve, connect() {} }; }
  createOscillator() {
    const note = { value: 0 };
    return { frequency: note, connect() {}, stop() {}, start: () => window.heard.push("(tone)") };
  }
};
"""
"""A script for the page, to run before its own."""


def heard(page: Page) -> list[str]:
    """All that a page has spoken and sounded so far; each note of a tone is ``TONE``."""
    everything: list[str] = page.evaluate("window.heard")
    return everything


def says(page: Page, words: str) -> None:
    """Wait until a page has spoken these words, however they are written."""
    page.wait_for_function(
        "words => window.heard.some((text) => text.toLowerCase().includes(words.toLowerCase()))",
        arg=words,
    )
