// Every shape is drawn here. A solid shape protects, an outlined one is off, a query is unknown.

const SPACE = "http://www.w3.org/2000/svg";

const THING = {
  flag: {
    on: '<path d="M6 2v20" class="line"/><path d="M6 3h14v9H6z" class="solid"/>',
    off: '<path d="M3 4h18" class="line"/><path d="M7 4v17" class="line"/><path d="M7 9h6v10H7" class="open"/>',
  },
  gate: {
    on: '<path d="M3 4v18M21 4v18" class="line"/><path d="M3 8h18v4H3zM3 15h18v4H3z" class="solid"/>',
    off: '<path d="M3 4v18M21 4v18" class="line"/><path d="M3 18 14 3l3 2.200L6.5 20z" class="open"/>',
  },
  derail: {
    on: '<path d="M1 20h22" class="line"/><path d="M4 18 9 6h8l4 12z" class="solid"/>',
    off: '<path d="M1 12h22" class="line"/><path d="M5 22l3-6h8l3 6z" class="open"/>',
  },
  chock: {
    on: '<path d="M1 22h22" class="line"/><circle cx="9" cy="12" r="8" class="open"/><path d="M13 21 23 21 21 11z" class="solid"/>',
    off: '<path d="M2 5h20" class="line"/><path d="M12 5v5" class="line"/><path d="M5 20 19 20 17 10z" class="open"/>',
  },
  foreman: {
    on: '<path d="M6 9a6 6 0 0 1 12 0z" class="solid"/><path d="M4 9h16" class="line"/><path d="M8 10a4 4 0 0 0 8 0" class="open"/><path d="M3 23c0-5 4-7 9-7s9 2 9 7z" class="solid"/>',
    off: '<path d="M4 9a6 6 0 0 1 11 0zM2.5 9h14" class="open"/><path d="M2 22c0-4 3-6 8-6" class="open"/><path d="M12 18l4 4 7-9" class="line"/>',
  },
  key: {
    on: '<path d="M9 2h4v4" class="line"/><circle cx="13" cy="9" r="4" class="open"/><path d="M13 13v10M13 18h4M13 22h4" class="line"/>',
    off: '<circle cx="6" cy="13" r="4" class="open"/><path d="M10 13h13M18 13v4M22 13v4" class="line"/>',
  },
  power: {
    on: '<path d="M12 3v8" class="line"/><path d="M7 6a8.5 8.5 0 1 0 10 0" class="open"/><path d="M3 21 21 3" class="line"/>',
    off: '<path d="M13 1 4 14h7l-1 9 10-14h-7z" class="solid"/>',
  },
};
const UNKNOWN =
  '<rect x="2" y="2" width="20" height="20" rx="3" class="dashed"/><path d="M8.5 9a3.5 3.5 0 1 1 5 3.200c-1.2.6-1.5 1.2-1.5 2.3" class="line"/><path d="M12 18.500v.4" class="line"/>';

const LAMP = {
  green: '<circle cx="32" cy="32" r="27" class="glow"/><path d="M20 33l9 9 16-19" class="mark"/>',
  red: '<path d="M21 4h22l17 17v22L43 60H21L4 43V21z" class="glow"/><path d="M17 32h30" class="mark bar"/>',
  white: '<path d="M32 3 61 32 32 61 3 32z" class="glow"/><path d="M32 19v26M22 35l10 10 10-10" class="mark"/>',
  dark: '<path d="M21 4h22l17 17v22L43 60H21L4 43V21z" class="hollow"/><path d="M17 32h30" class="ghost"/>',
  none: '<path d="M32 16v44M20 60h24" class="ghost"/><circle cx="32" cy="18" r="12" class="hollow"/>',
};

const SMALL = {
  done: '<path d="M4 13l5 5L20 6" class="line"/>',
  alarm: '<path d="M12 2 23 22H1z" class="solid"/><path d="M12 9v6M12 18.500v.5" class="cut"/>',
  wire: '<path d="M2 12h6M16 12h6M8 8v8M16 8v8M10 17l4-10" class="line"/>',
  made: '<path d="M1 12h22" class="line"/><circle cx="6" cy="12" r="3.5" class="solid"/><circle cx="18" cy="12" r="3.5" class="solid"/>',
  broken:
    '<path d="M1 12h3M20 12h3M8 10l7-6" class="line"/><circle cx="6" cy="12" r="3" class="open"/><circle cx="18" cy="12" r="3" class="open"/>',
  unknown: UNKNOWN,
  wait: '<circle cx="12" cy="12" r="10" class="open"/><path d="M12 6v6l4 3" class="line"/>',
  hand: '<path d="M6 13V6a1.500 1.500 0 0 1 3 0v5V4a1.500 1.500 0 0 1 3 0v7V4.500a1.500 1.500 0 0 1 3 0V12V7.500a1.500 1.500 0 0 1 3 0V15c0 4.500-2.500 7-6 7-3 0-4.500-1.500-6.500-5L3.500 13.500a1.500 1.500 0 0 1 2.500-1.500z" class="solid"/>',
  person: '<circle cx="12" cy="7" r="4.500" class="open"/><path d="M3.500 22c0-5 3.500-8 8.500-8s8.500 3 8.500 8" class="line"/>',
  go: '<path d="M3 12h15M12 5l7 7-7 7" class="line"/>',
};

export function thing(kind, state) {
  return drawn(THING[kind]?.[state] ?? UNKNOWN, 24, `glyph thing-glyph is-${state}`);
}

export function lamp(colour) {
  return drawn(LAMP[colour] ?? LAMP.dark, 64, `lamp-glyph lamp-${colour}`);
}

export function small(name) {
  return drawn(SMALL[name], 24, "glyph");
}

// The line of the five steps: along the main, out to the spur, and back.
export function stepLine() {
  const line = drawn(
    '<path d="M0 26H150L250 8H350L450 26H500" class="step-line"/>', 500, "step-track", 34,
  );
  line.setAttribute("preserveAspectRatio", "none");
  return line;
}

function drawn(markup, width, className, height = width) {
  const svg = document.createElementNS(SPACE, "svg");
  svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
  svg.setAttribute("class", className);
  svg.setAttribute("aria-hidden", "true");
  svg.innerHTML = markup;
  return svg;
}
