// Keeps the screen on where the browser allows it (HTTPS or this machine); taken again when the page comes back.

let lock;

export const canStayAwake = () => "wakeLock" in navigator;

export async function stayAwake() {
  if (!canStayAwake() || document.hidden || (lock && !lock.released)) return Boolean(lock);
  try {
    lock = await navigator.wakeLock.request("screen");
    return true;
  } catch {
    // Low battery, or the school's own rules.
    return false;
  }
}

document.addEventListener("visibilitychange", () => {
  if (lock && !document.hidden) stayAwake();
});
