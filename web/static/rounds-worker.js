// Lets the rounds start without network, for as long as the network is away. The server
// sets the list of assets above this text.
'use strict';
const cacheName = 'underlamp-rounds';
const isRounds = (path) => /^\/bench\/[^/]+\/rounds$/.test(path);
const isStatic = (path) => path.startsWith('/static/');

self.addEventListener('install', (e) => {
  e.waitUntil(caches.open(cacheName).then((c) => c.addAll(assets)).then(() => self.skipWaiting()));
});
self.addEventListener('activate', (e) => e.waitUntil(self.clients.claim()));

// A page that has come whole is told of, to be kept with its assets; what no kept page
// names any more goes.
self.addEventListener('message', (e) => {
  const { page, files } = e.data ?? {};
  if (typeof page !== 'string' || !isRounds(page) || !Array.isArray(files)) return;
  e.waitUntil((async () => {
    const c = await caches.open(cacheName);
    await Promise.all([...files.filter(isStatic), page].map(async (url) => {
      if (isStatic(url) && await c.match(url)) return;
      const answer = await fetch(url);
      if (answer.ok && !answer.redirected) await c.put(url, answer);
    }));
    const pages = [], old = [];
    for (const r of await c.keys()) {
      const path = new URL(r.url).pathname;
      if (isRounds(path)) pages.push(await (await c.match(r)).text());
      else if (isStatic(path) && !assets.includes(path)) old.push([r, path]);
    }
    for (const [r, path] of old) if (!pages.some((p) => p.includes(path))) await c.delete(r);
    e.ports[0]?.postMessage('kept');
  })().catch(() => e.ports[0]?.postMessage('not kept')));
});

self.addEventListener('fetch', (e) => {
  const url = new URL(e.request.url);
  if (e.request.method !== 'GET' || url.origin !== location.origin) return;
  if (isStatic(url.pathname)) e.respondWith(held(e.request));
  else if (e.request.mode === 'navigate' && isRounds(url.pathname)) e.respondWith(page(e.request, url.pathname));
});

async function held(request) {
  const c = await caches.open(cacheName);
  return await c.match(request) ?? fetch(request);
}

// The page from the server if it answers within some seconds, else the one kept.
const patience = 4000;
async function page(request, path) {
  const c = await caches.open(cacheName);
  const kept = await c.match(path);
  const stop = new AbortController();
  const timer = kept && setTimeout(() => stop.abort(), patience);
  try {
    const answer = await fetch(request, { signal: stop.signal });
    if (answer.ok && !answer.redirected) c.put(path, answer.clone());
    else if (kept && (answer.status >= 500 || answer.status === 422)) return kept; // a bench file with mistakes does not stop a walk
    return answer;
  } catch (err) {
    if (kept) return kept;
    throw err;
  } finally {
    clearTimeout(timer);
  }
}
