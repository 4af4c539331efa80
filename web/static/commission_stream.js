// Follows a commissioning. Silence counts as a lost connection, and is mended by itself.

const SILENT_MS = 6000;
const FIRST_RETRY_MS = 500;
const LAST_RETRY_MS = 5000;
const PATH = "/api/commission/events";

export class CommissionStream {
  constructor(onChange) {
    this.onChange = onChange;
    this.view = null;
    this.connected = false;
    this.lost = false; // Whether a connection was ever sought in vain.
    this.retry = FIRST_RETRY_MS;
    this.drawnAt = 0; // When the view came, by this page's own clock.
    this.open();
    setInterval(() => this.watch(), 1000);
    document.addEventListener("visibilitychange", () => this.watch());
    addEventListener("pageshow", () => this.watch());
    addEventListener("pagehide", () => this.source?.close());
  }

  // Whether what the view shows is so now.
  get live() {
    return this.connected && this.view?.word === "live";
  }

  open() {
    clearTimeout(this.timer);
    this.source?.close();
    this.heard = performance.now();
    const source = new EventSource(PATH);
    this.source = source;
    source.addEventListener("commission", (event) => this.take(JSON.parse(event.data)));
    source.addEventListener("beat", () => (this.heard = performance.now()));
    source.addEventListener("error", () => this.lose(source));
  }

  take(view) {
    this.heard = this.drawnAt = performance.now();
    this.view = view;
    this.connected = true;
    this.retry = FIRST_RETRY_MS;
    this.onChange(this);
  }

  lose(source) {
    if (source !== this.source) return;
    this.connected = false;
    this.lost = true;
    source.close();
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.open(), this.retry);
    this.heard = performance.now() + this.retry;
    this.retry = Math.min(this.retry * 2, LAST_RETRY_MS);
    this.onChange(this);
  }

  watch() {
    if (performance.now() - this.heard > SILENT_MS) this.lose(this.source);
  }
}
