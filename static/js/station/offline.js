// Keeps this page on the device, so that it opens again with no network at all: on HTTPS or this machine only.

function madeOf(page) {
  const files = performance.getEntriesByType("resource").map((entry) => new URL(entry.name));
  const own = files.filter((file) => file.origin === location.origin && file.pathname.startsWith("/static/"));
  return [page, ...new Set(own.map((file) => file.pathname))];
}

// Resolves to true once all of it is on the device, to false where the browser does not allow it.
export async function openWithoutNetwork(worker, page) {
  if (!("serviceWorker" in navigator)) return false;
  try {
    await navigator.serviceWorker.register(worker, { scope: page, updateViaCache: "none" });
    const { active } = await navigator.serviceWorker.ready;
    const kept = new Promise((resolve) => {
      navigator.serviceWorker.addEventListener("message", ({ data }) => data?.kept && resolve(true));
    });
    navigator.serviceWorker.startMessages();
    active.postMessage({ keep: madeOf(page) });
    return await kept;
  } catch {
    // A certificate that the browser does not trust, or the school's own rules: the open page still goes on.
    return false;
  }
}
