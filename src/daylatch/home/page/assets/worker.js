"use strict";
// Keeps the last page, so that it can be loaded again where there is no connection. Taps are kept by
// the page itself.
const KEPT = "daylatch page";

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

async function page(request) {
  const kept = await caches.open(KEPT);
  const address = new URL(request.url).pathname;
  try {
    const answer = await fetch(request);
    if (answer.ok && !answer.redirected) await kept.put(address, answer.clone());
    // Whose link no longer holds keeps nothing; a guest is never told to wait.
    else if ([401, 403, 404, 429].includes(answer.status)) await caches.delete(KEPT);
    return answer;
  } catch (error) {
    const found = request.mode === "navigate" ? await kept.match(address) : undefined;
    if (found) return found;
    throw error;
  }
}

async function asset(request) {
  const kept = await caches.open(KEPT);
  const found = await kept.match(request);
  if (found) return found;
  const answer = await fetch(request);
  if (answer.ok) {
    // Of each there is one: an older one has another address.
    const name = new URL(request.url).pathname;
    for (const old of await kept.keys()) {
      if (new URL(old.url).pathname === name) await kept.delete(old);
    }
    await kept.put(request, answer.clone());
  }
  return answer;
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const address = new URL(request.url);
  if (request.method !== "GET" || address.origin !== self.location.origin) return;
  if (/\/assets\/[^/]+$/.test(address.pathname)) event.respondWith(asset(request));
  else if (/\/house\/[^/]+$/.test(address.pathname)) event.respondWith(page(request));
});
