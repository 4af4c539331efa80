// The bench's own stream: traces, health, and what a hand may do. The board's stream tells the rest.

import { applyPatch } from "./stream.js";

const AGAIN_MS = 3000;

export class BenchStream {
  constructor(onChange) {
    this.onChange = onChange;
    this.state = null;
    this.open();
    addEventListener("pagehide", () => this.source.close());
    addEventListener("pageshow", (event) => event.persisted && this.open());
  }

  open() {
    const source = new EventSource("/api/bench/events");
    this.source = source;
    source.addEventListener("state", (event) => this.take(() => (this.state = JSON.parse(event.data))));
    source.addEventListener("patch", (event) => this.take(() => this.state && applyPatch(this.state, JSON.parse(event.data))));
    source.addEventListener("error", () => this.lose(source));
  }

  take(change) {
    change();
    this.onChange();
  }

  // What was last heard is old by now, and a trace that stands still would look like quiet.
  lose(source) {
    if (source !== this.source) return;
    source.close();
    this.state = null;
    this.onChange();
    setTimeout(() => source === this.source && this.open(), AGAIN_MS);
  }
}
