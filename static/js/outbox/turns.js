// One sender at a time over all tabs of this address: the browser's locks, or a lease in the store without them.

import { makeId } from "./store.js";

const LEASE_MS = 3000;
const RENEW_MS = 1000;
const LOOK_AGAIN_MS = 400;

const me = makeId();

const pause = (ms) => new Promise((resolve) => setTimeout(resolve, ms));

export async function inTurn(store, name, work) {
  if (navigator.locks) return navigator.locks.request(`second-build-${name}`, work);
  const key = `lease-${name}`;
  while (!(await store.takeLease(key, me, LEASE_MS))) await pause(LOOK_AGAIN_MS);
  // A tab that sleeps through its lease may send beside another: the server counts an entry once all the same.
  const renewal = setInterval(() => store.takeLease(key, me, LEASE_MS).catch(() => {}), RENEW_MS);
  const letGo = () => store.dropLease(key, me).catch(() => {});
  addEventListener("pagehide", letGo);
  try {
    return await work();
  } finally {
    clearInterval(renewal);
    removeEventListener("pagehide", letGo);
    await letGo();
  }
}
