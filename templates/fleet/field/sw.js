"use strict";
// Keeps the field page so that it opens without internet: everything or nothing, and never a redirected answer.
const KEPT = {{ kept|safe }};
const PREFIX = "rooftally-field-";
const CACHE = PREFIX + KEPT.version;

async function keepAll() {
  const cache = await caches.open(CACHE);
  try {
    await Promise.all([KEPT.shell, ...KEPT.files].map(async (address) => {
      const credentials = address === KEPT.shell ? "omit" : "same-origin";
      const answer = await fetch(address, { cache: "no-cache", redirect: "error", credentials });
      if (!answer.ok) throw new Error(address);
      await cache.put(address, answer);
    }));
  } catch (error) {
    await caches.delete(CACHE);
    throw error;
  }
}

async function dropOthers() {
  const names = await caches.keys();
  await Promise.all(names.filter((name) => name.startsWith(PREFIX) && name !== CACHE).map((name) => caches.delete(name)));
  await self.clients.claim();
}

async function kept(request, address) {
  const cache = await caches.open(CACHE);
  return (await cache.match(address)) || fetch(request);
}

self.addEventListener("install", (event) => event.waitUntil(keepAll()));
self.addEventListener("activate", (event) => event.waitUntil(dropOthers()));
self.addEventListener("message", (event) => {
  if (event.data === "take over") self.skipWaiting();
});
self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== self.location.origin) return;
  const isShell = event.request.mode === "navigate" && url.pathname === KEPT.shell;
  const address = isShell ? KEPT.shell : url.pathname + url.search;
  if (isShell || KEPT.files.includes(address)) event.respondWith(kept(event.request, address));
});
