// Keeps the screen on while winding, where the browser can.
import { byId } from "./say.js";

let lock = null;
let asked = false;

export async function keepAwake() {
  if (lock || document.visibilityState !== "visible") return;
  if (!("wakeLock" in navigator)) {
    byId("awake").textContent = "This browser cannot keep the screen on here; set the device to stay awake while you wind.";
    return;
  }
  try {
    lock = await navigator.wakeLock.request("screen");
    byId("awake").textContent = "The screen stays on while this page is shown.";
    lock.addEventListener("release", () => { lock = null; });
  } catch {
    byId("awake").textContent = "The screen may go dark; set the device to stay awake while you wind.";
  }
}

document.addEventListener("visibilitychange", () => { if (asked) keepAwake(); });
asked = true;
keepAwake();
