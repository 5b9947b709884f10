/* Opens the swap table without reception: its page and its own files, nobody's other pages. */
"use strict";

const CACHE = "sowback-table-{{ version }}";
const PAGE = "{{ page|escapejs }}";
const ASSETS = [{% for asset in assets %}"{{ asset|escapejs }}", {% endfor %}];
const CAMERA = [{% for asset in camera %}"{{ asset|escapejs }}", {% endfor %}];

self.addEventListener("install", (event) => {
  const fresh = ASSETS.map((address) => new Request(address, { cache: "reload" }));
  const keep = async () => {
    const cache = await caches.open(CACHE);
    await cache.addAll(fresh);
    await keepPage(cache, await fetch(PAGE, { credentials: "same-origin", cache: "no-store" }));
    await self.skipWaiting();
  };
  event.waitUntil(keep());
});

/* Only the page itself, as it opens: not with a name or a message in it, nor the sign-in page. */
const keepPage = async (cache, answer) => {
  const plain = answer.url === new URL(PAGE, self.location.origin).href;
  if (answer.status === 200 && !answer.redirected && plain) {
    await cache.put(PAGE, answer);
  }
};

self.addEventListener("activate", (event) => {
  const clear = async () => {
    for (const name of await caches.keys()) {
      if (name.startsWith("sowback-table-") && name !== CACHE) {
        await caches.delete(name);
      }
    }
    await self.clients.claim();
  };
  event.waitUntil(clear());
});

/* The page from the server; without reception the one that was kept. Whoever was signed out
   meanwhile is sent to sign in, and what was kept for them goes. */
const page = async (request) => {
  const cache = await caches.open(CACHE);
  let answer;
  try {
    answer = await fetch(request);
  } catch (lost) {
    const kept = await cache.match(PAGE);
    if (kept) {
      return kept;
    }
    throw lost;
  }
  if (answer.status === 200 && !answer.redirected) {
    await keepPage(cache, answer.clone());
  } else if (answer.status < 500) {
    await cache.delete(PAGE);
    await cache.delete("people");
  }
  return answer;
};

const file = async (request, address) => {
  const cache = await caches.open(CACHE);
  const kept = await cache.match(address);
  if (kept) {
    return kept;
  }
  const answer = await fetch(request);
  if (answer.ok) {
    await cache.put(address, answer.clone());
  }
  return answer;
};

self.addEventListener("fetch", (event) => {
  const request = event.request;
  const address = new URL(request.url);
  if (request.method !== "GET" || address.origin !== self.location.origin) {
    return;
  }
  if (request.mode === "navigate" && address.pathname === PAGE) {
    event.respondWith(page(request));
  } else if (ASSETS.includes(address.pathname) || CAMERA.includes(address.pathname)) {
    event.respondWith(file(request, address.pathname));
  }
});
