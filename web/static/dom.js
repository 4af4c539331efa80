// Small helpers to build and change elements. Text is always set as text, never as markup.

export function make(tag, options = {}, ...children) {
  const element = document.createElement(tag);
  const { text, className, data, ...attributes } = options;
  if (className) element.className = className;
  if (text !== undefined) element.textContent = text;
  for (const [key, value] of Object.entries(data ?? {})) element.dataset[key] = value;
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  element.append(...children.filter(Boolean));
  return element;
}

export function setText(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

export function setData(element, key, value) {
  if (element.dataset[key] !== String(value)) element.dataset[key] = value;
}

export function show(element, visible) {
  if (element.hidden === visible) element.hidden = !visible;
}

// Runs `draw` only when what it draws from has changed, so that focus and flashing are kept.
export function drawer(draw) {
  let last;
  return (value) => {
    const key = JSON.stringify(value);
    if (key === last) return;
    last = key;
    draw(value);
  };
}

// Keeps one element for each key, in the order of the keys.
export function keyed(parent, create) {
  const kept = new Map();
  return (entries) => {
    const wanted = new Set(entries.map(([key]) => key));
    for (const [key, item] of kept) {
      if (!wanted.has(key)) {
        item.element.remove();
        kept.delete(key);
      }
    }
    entries.forEach(([key, value], place) => {
      let item = kept.get(key);
      if (!item) kept.set(key, (item = create(key)));
      if (parent.children[place] !== item.element) {
        parent.insertBefore(item.element, parent.children[place] ?? null);
      }
      item.update(value);
    });
    return kept;
  };
}
