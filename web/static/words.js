// Times as people read them.

export function clockText(us) {
  if (us === null || us === undefined) return "–:––:––";
  const seconds = Math.max(0, Math.floor(us / 1e6));
  const two = (number) => String(number).padStart(2, "0");
  return `${Math.floor(seconds / 3600)}:${two(Math.floor(seconds / 60) % 60)}:${two(seconds % 60)}`;
}

export function spanText(us) {
  const seconds = Math.max(0, Math.floor(us / 1e6));
  if (seconds < 60) return `${seconds} s`;
  const minutes = Math.floor(seconds / 60);
  if (minutes < 60) return `${minutes} min ${String(seconds % 60).padStart(2, "0")} s`;
  return `${Math.floor(minutes / 60)} h ${String(minutes % 60).padStart(2, "0")} min`;
}

// The layout's own time of day: it stood at `startsUs` when the session began, and runs `ratio` times as fast.
export function layoutText(us, { starts_us: startsUs, clock_ratio: ratio }) {
  if (us === null || us === undefined) return "–:––";
  const minutes = Math.floor((startsUs + Math.max(0, us) * ratio) / 60e6) % 1440;
  const hour = Math.floor(minutes / 60);
  return `${hour % 12 || 12}:${String(minutes % 60).padStart(2, "0")} ${hour < 12 ? "am" : "pm"}`;
}

const WALL = new Intl.DateTimeFormat(undefined, { hour: "numeric", minute: "2-digit" });

// A moment of the wall clock, in the reader's own zone and manner.
export function wallText(us) {
  return WALL.format(new Date(us / 1000));
}

export function wallTime(us) {
  return new Date(us / 1000).toISOString();
}

export function countText(count, one, many) {
  return `${count} ${count === 1 ? one : many}`;
}
