"use strict";
// Keeps the page at the first visit and answers from what is kept. After that nothing is fetched: where the page
// is not kept, the answer is an error, not a request.
const NAME = "trug-carry-PAGE_MARK";
const FILES = ["./index.html", "./manifest.webmanifest", "./icon.svg"];

self.addEventListener("install", (event) => {
  event.waitUntil(caches.open(NAME).then((kept) => kept.addAll(FILES)).then(() => self.skipWaiting()));
});

self.addEventListener("activate", (event) => {
  const others = (names) => names.filter((name) => name.startsWith("trug-carry-") && name !== NAME);
  event.waitUntil(caches.keys()
    .then((names) => Promise.all(others(names).map((name) => caches.delete(name))))
    .then(() => self.clients.claim()));
});

self.addEventListener("fetch", (event) => {
  const page = event.request.mode === "navigate" ? "./index.html" : event.request;
  event.respondWith(caches.open(NAME)
    .then((kept) => kept.match(page, { ignoreSearch: true }))
    .then((found) => found || Response.error()));
});
