// Follows the screen's events. A lost connection is noticed by silence too, and mended by itself.

const SILENT_MS = 6000;
const FIRST_RETRY_MS = 500;
const LAST_RETRY_MS = 5000;

export class Stream {
  // With `bench`, what only the bench shows comes along, as `this.bench`.
  constructor(onChange, { bench = false } = {}) {
    this.onChange = onChange;
    this.wantsBench = bench;
    this.state = null;
    this.bench = null;
    this.connected = false;
    this.lost = false; // Whether a connection was ever sought in vain.
    this.full = false;
    this.retry = FIRST_RETRY_MS;
    this.heard = performance.now();
    this.clock = null;
    this.open();
    setInterval(() => this.watch(), 1000);
    document.addEventListener("visibilitychange", () => this.watch());
    addEventListener("pageshow", () => this.watch());
    addEventListener("pagehide", () => this.source?.close());
  }

  get live() {
    return this.connected && Boolean(this.state?.head.live);
  }

  // Session time in microseconds, or null where it is not known.
  now() {
    if (!this.clock) return null;
    return this.clock.us + (performance.now() - this.clock.at) * 1000;
  }

  open() {
    clearTimeout(this.timer);
    this.source?.close();
    this.heard = performance.now();
    const asked = [this.wantsBench && "bench=yes", this.lastId && `after=${this.lastId}`].filter(Boolean);
    const source = new EventSource(`/api/events${asked.length ? `?${asked.join("&")}` : ""}`);
    this.source = source;
    source.addEventListener("state", (event) => this.take(event, (data) => (this.state = data)));
    source.addEventListener("patch", (event) => this.take(event, (data) => this.apply(data)));
    source.addEventListener("beat", (event) => this.take(event, () => {}));
    source.addEventListener("bench", (event) => this.takeBench(event, (data) => (this.bench = data)));
    source.addEventListener("bench-patch", (event) => this.takeBench(event, (data) => this.bench && applyPatch(this.bench, data)));
    source.addEventListener("entries", () => (this.heard = performance.now()));
    source.addEventListener("error", () => this.lose(source));
  }

  take(event, change) {
    const data = JSON.parse(event.data);
    this.heard = performance.now();
    this.lastId = event.lastEventId;
    change(data);
    if (data.clock_us === null) this.clock = null;
    else this.clock = { us: data.clock_us, at: this.heard };
    if (!this.state) return;
    this.connected = true;
    this.retry = FIRST_RETRY_MS;
    this.onChange(this);
  }

  takeBench(event, change) {
    this.heard = performance.now();
    change(JSON.parse(event.data));
    if (this.state) this.onChange(this);
  }

  apply(patch) {
    if (!this.state) return;
    const { entries, clock_us, ...sections } = patch;
    applyPatch(this.state, sections);
  }

  lose(source) {
    if (source !== this.source) return;
    this.connected = false;
    this.lost = true;
    this.bench = null; // A trace that stands still would look like quiet.
    source.close();
    this.later();
    this.onChange(this);
  }

  later() {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.open(), this.retry);
    this.heard = performance.now() + this.retry;
    this.retry = Math.min(this.retry * 2, LAST_RETRY_MS);
  }

  watch() {
    if (performance.now() - this.heard > SILENT_MS) this.lose(this.source);
  }
}

// In a section that is a table only the keys that differ have come; any other comes whole.
export function applyPatch(state, patch) {
  for (const [section, change] of Object.entries(patch)) {
    if (isTable(state[section]) && isTable(change)) merge(state[section], change);
    else state[section] = change;
  }
}

function isTable(value) {
  return value !== null && typeof value === "object" && !Array.isArray(value);
}

function merge(table, change) {
  for (const [key, value] of Object.entries(change)) {
    if (value === null) delete table[key];
    else table[key] = value;
  }
}
