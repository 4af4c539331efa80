// Follows one job's events. Silence counts as a lost connection, and is mended by itself.

const SILENT_MS = 6000;
const FIRST_RETRY_MS = 500;
const LAST_RETRY_MS = 5000;

export class JobStream {
  constructor(link, onChange) {
    this.path = `/api/crew/${encodeURIComponent(link)}`;
    this.onChange = onChange;
    this.view = null;
    this.connected = false;
    this.lost = false; // Whether a connection was ever sought in vain.
    this.over = ""; // Why the link is no good any more, if it is not.
    this.refused = ""; // Why the screen gives no stream now, though the link is good.
    this.retry = FIRST_RETRY_MS;
    this.clock = null;
    this.open();
    setInterval(() => this.watch(), 1000);
    document.addEventListener("visibilitychange", () => this.watch());
    addEventListener("pageshow", () => this.watch());
    addEventListener("pagehide", () => this.source?.close());
  }

  get live() {
    return this.connected && Boolean(this.view?.head.live);
  }

  // Session time in microseconds, or null where it is not known.
  now() {
    return this.clock ? this.clock.us + (performance.now() - this.clock.at) * 1000 : null;
  }

  open() {
    clearTimeout(this.timer);
    this.source?.close();
    this.heard = performance.now();
    const source = new EventSource(`${this.path}/events`);
    this.source = source;
    source.addEventListener("job", (event) => this.take(event, (data) => (this.view = data)));
    source.addEventListener("beat", (event) => this.take(event, (data) => this.setClock(data.clock_us)));
    source.addEventListener("error", () => this.lose(source));
  }

  take(event, change) {
    this.heard = performance.now();
    change(JSON.parse(event.data));
    // The beat that comes first says nothing of the job: it is known when its own event is here.
    if (event.type === "job") {
      this.connected = true;
      this.refused = "";
      this.retry = FIRST_RETRY_MS;
    }
    if (this.view) this.onChange(this);
  }

  setClock(us) {
    this.clock = us === null ? null : { us, at: this.heard };
  }

  async lose(source) {
    if (source !== this.source || this.over) return;
    this.connected = false;
    this.lost = true;
    source.close();
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.open(), this.retry);
    this.heard = performance.now() + this.retry;
    this.retry = Math.min(this.retry * 2, LAST_RETRY_MS);
    this.onChange(this);
    await this.askWhy();
  }

  async askWhy() {
    try {
      const response = await fetch(this.path);
      if (response.ok) return;
      const { error } = await response.json();
      if (response.status === 404 || response.status === 410) {
        this.over = error;
        clearTimeout(this.timer);
      } else {
        this.refused = error;
      }
      this.onChange(this);
    } catch {
      // The screen is away; the page says so, and tries again.
    }
  }

  watch() {
    if (!this.over && performance.now() - this.heard > SILENT_MS) this.lose(this.source);
  }
}
