// Sentences from the words that the screen gives.

export function sentence(text) {
  if (!text) return "";
  const first = `${text[0].toUpperCase()}${text.slice(1)}`;
  return /[.!?]$/.test(first) ? first : `${first}.`;
}

// The cars of a stop as they are read out: "Pull the box car. Spot two hoppers, at the crusher."
export function carsAloud({ pull, spot }) {
  const list = (cars) => cars.map(({ car, place }) => (place ? `${car}, ${place}` : car)).join("; ");
  const said = [];
  if (pull.length) said.push(`Pull ${list(pull)}.`);
  if (spot.length) said.push(`Spot ${list(spot)}.`);
  return said.join(" ");
}
