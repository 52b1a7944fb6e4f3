// Keeps a page and its files on the device, so that it opens again with no network at all: on HTTPS or this machine.

function filesOfThisPage() {
  const files = performance.getEntriesByType("resource").map((entry) => new URL(entry.name));
  const own = files.filter((file) => file.origin === location.origin && file.pathname.startsWith("/static/"));
  return [...new Set(own.map((file) => file.pathname))];
}

// `worker` is the script that keeps it; it sees the addresses under its own folder alone. Resolves to true once all
// of the page is on the device, to false where the browser or the worker does not allow it.
export async function openWithoutNetwork(worker, page) {
  if (!("serviceWorker" in navigator)) return false;
  try {
    const { installing, waiting, active } = await navigator.serviceWorker.register(worker, { updateViaCache: "none" });
    const kept = new Promise((resolve) => {
      navigator.serviceWorker.addEventListener("message", ({ data }) => data?.kept !== undefined && resolve(data.kept));
    });
    navigator.serviceWorker.startMessages();
    (installing ?? waiting ?? active).postMessage({ keep: filesOfThisPage(), page });
    return await kept;
  } catch {
    // A certificate that the browser does not trust, or the school's own rules: the open page still goes on.
    return false;
  }
}
