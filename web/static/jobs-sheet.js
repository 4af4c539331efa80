// A job's sheet: printing it opens the slips, and a guest may sign in to see it.

import { HOST_CHANGE, signIn } from "./host.js";

const slips = document.querySelector("details.slips");
let wasOpen = false;

document.getElementById("print")?.addEventListener("click", () => window.print());
document.getElementById("sign-in")?.addEventListener("click", signIn);

const needsHost = Boolean(document.getElementById("sign-in"));
document.addEventListener(HOST_CHANGE, (event) => {
  if (event.detail.host === needsHost) location.reload();
});

addEventListener("beforeprint", () => {
  if (!slips) return;
  wasOpen = slips.open;
  slips.open = true;
});
addEventListener("afterprint", () => {
  if (slips) slips.open = wasOpen;
});
