// The host's sign-in. What only the host may do is asked by `hostFetch`, which sends this sign-in's
// token along, asks for the PIN where it is wanted, and then tries again.

import { setData, setText } from "./dom.js";
import { openDialog } from "./pin_dialog.js";

const JSON_TYPE = "application/json";
const others = "BroadcastChannel" in window ? new BroadcastChannel("spurlock-host") : null;
const me = { host: false, token: null, pinIsSet: true };
let asked = null; // The dialog that is open, so that two requests ask for one PIN.

// Tells the page of every change: `document.addEventListener("hostchange", ...)`.
export const HOST_CHANGE = "hostchange";

export function isHost() {
  return me.host;
}

// Whether there is a PIN to give at all.
export function pinIsSet() {
  return me.pinIsSet;
}

// Who this browser is, asked anew of the screen. Resolves also where the screen can't be reached.
export async function refreshHost() {
  try {
    const said = await (await fetch("/api/me")).json();
    become({ host: Boolean(said.host), token: said.token ?? null, pinIsSet: said.pin_is_set !== false });
  } catch {
    // The page's own banner tells that the screen is away; what was known stands.
  }
  return me.host;
}

// As `fetch`, with a body that becomes JSON. Gives the refusal (401) where no PIN was given.
export async function hostFetch(path, { method = "POST", body } = {}) {
  await known;
  let response = await send(path, method, body);
  if (response.status === 403 && (await tokenIsOld())) response = await send(path, method, body);
  if (response.status === 401 && (await signIn())) response = await send(path, method, body);
  return response;
}

// Opens the dialog that asks for the PIN. Resolves to whether this browser is the host's then.
export async function signIn() {
  asked ??= dialog().finally(() => (asked = null));
  return asked;
}

async function dialog() {
  await refreshHost();
  return openDialog(me, { enter, leave, refresh: refreshHost });
}

function send(path, method, body) {
  const headers = { "Content-Type": JSON_TYPE };
  if (me.token) headers["X-Spurlock-Token"] = me.token;
  if (method === "GET" || method === "HEAD") return fetch(path, { method, headers });
  return fetch(path, { method, headers, body: JSON.stringify(body ?? {}) });
}

// Another tab of this browser may have signed in anew.
async function tokenIsOld() {
  const before = me.token;
  await refreshHost();
  return me.token !== before;
}

// What became of a PIN: {} for right, else {error, wait} with the seconds to wait.
async function enter(pin) {
  let response;
  try {
    response = await send("/api/host", "POST", { pin });
    const said = await response.json();
    if (response.ok) {
      become({ host: true, token: said.token, pinIsSet: true });
      others?.postMessage("changed");
      return {};
    }
    return { error: sentence(said.error), wait: Number(response.headers.get("Retry-After") ?? 0) };
  } catch {
    return { error: "The screen could not be reached. Try again.", wait: 0 };
  }
}

async function leave() {
  try {
    const response = await send("/api/host/leave", "POST");
    if (!response.ok && response.status !== 401) return (await tokenIsOld()) ? leave() : "The screen refused it.";
  } catch {
    return "The screen could not be reached; you are signed in still.";
  }
  become({ host: false, token: null });
  others?.postMessage("changed");
  return "";
}

function become(now) {
  const changed = now.host !== me.host;
  Object.assign(me, now);
  draw();
  if (changed) document.dispatchEvent(new CustomEvent(HOST_CHANGE, { detail: { host: me.host } }));
}

function draw() {
  setData(document.body, "host", me.host ? "yes" : "no");
  const button = document.getElementById("host");
  if (!button) return;
  setData(button, "host", me.host ? "signed-in" : "guest");
  const word = me.host ? "signed in" : "sign in";
  setText(document.getElementById("host-word"), word);
  button.setAttribute("aria-label", `Host: ${word}`); // On a phone the word itself has no room.
}

function sentence(text) {
  return text ? `${text[0].toUpperCase()}${text.slice(1)}.` : "The screen refused it.";
}

document.getElementById("host")?.addEventListener("click", signIn);
others?.addEventListener("message", refreshHost);
addEventListener("pageshow", (event) => event.persisted && refreshHost());
const known = refreshHost();
