// Speech and a soft tone, both by the browser's own means: nothing is fetched for either.

const LETTER_MS = 90; // Where a browser forgets to say that it has finished speaking.
const SLACK_MS = 4000;
const TONE_S = 0.9;
const TONES_HZ = [523.25, 392.0];
const LOUDNESS = 0.09;

export class Voice {
  constructor() {
    this.speech = (window.SpeechSynthesisUtterance && window.speechSynthesis) || null;
    this.audio = null;
    this.line = Promise.resolve();
    this.turn = 0;
  }

  get canSpeak() {
    return this.speech !== null;
  }

  // Browsers allow sound only after a tap: this is called by one.
  wake() {
    const Context = window.AudioContext ?? window.webkitAudioContext;
    if (Context && !this.audio) this.audio = new Context();
    this.audio?.resume?.();
  }

  // Says a text after whatever is being said; `now` cuts that short. Resolves when it was said.
  say(text, { now = false } = {}) {
    if (!this.speech || !text) return Promise.resolve();
    if (now) {
      this.turn += 1;
      this.speech.cancel();
      this.line = Promise.resolve();
    }
    const turn = this.turn;
    this.line = this.line.then(() => (turn === this.turn ? this.utter(text) : undefined));
    return this.line;
  }

  hush() {
    this.turn += 1;
    this.speech?.cancel();
    this.line = Promise.resolve();
  }

  utter(text) {
    return new Promise((done) => {
      const words = new SpeechSynthesisUtterance(text);
      words.lang = document.documentElement.lang;
      words.rate = 0.95;
      const late = setTimeout(done, SLACK_MS + LETTER_MS * text.length);
      const end = () => {
        clearTimeout(late);
        done();
      };
      words.addEventListener("end", end);
      words.addEventListener("error", end);
      this.speech.speak(words);
    });
  }

  // Two soft notes, the second lower.
  tone() {
    if (!this.audio) return;
    TONES_HZ.forEach((hz, place) => {
      const begins = this.audio.currentTime + place * 0.45;
      const note = this.audio.createOscillator();
      const loudness = this.audio.createGain();
      note.type = "sine";
      note.frequency.value = hz;
      loudness.gain.setValueAtTime(0.0001, begins);
      loudness.gain.exponentialRampToValueAtTime(LOUDNESS, begins + 0.08);
      loudness.gain.exponentialRampToValueAtTime(0.0001, begins + TONE_S);
      note.connect(loudness);
      loudness.connect(this.audio.destination);
      note.start(begins);
      note.stop(begins + TONE_S);
    });
  }
}
