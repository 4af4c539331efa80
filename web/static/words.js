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
