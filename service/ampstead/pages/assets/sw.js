"use strict";
// Keeps a copy of the pages that were visited, with their pictures, for a field without reception. The network goes
// first; a copy is shown only where it fails, and says of itself from when it is.
const STORE = "visited";
const PATIENCE = 6000;
const KINDS = /^(text\/html|text\/css|text\/javascript|image\/svg\+xml)\b/;
const ROOT = new URL("./", self.location.href);
const FOREIGN = ["v1", "docs", "openapi.json", "metrics", "version", "healthz", "readyz"];

const part = (address) => new URL(address).pathname.slice(ROOT.pathname.length);
const name = (address) => part(address).replace(/^v1\//, "").split(".")[0];
const sort = (address) => part(address).split("/")[0];
const taken = (address) => !FOREIGN.includes(sort(address)) || /^v1\/[a-z-]+\.svg$/.test(part(address));

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

// What one saw on the way, while typing, is no address visited: the last one replaces those before it.
const forgotten = async (store, typist, now) => {
  const kept = await store.keys();
  for (const each of kept) {
    const had = await store.match(each, { ignoreVary: true });
    if (each.url === now || had?.headers.get("X-Typed") !== typist) continue;
    const search = new URL(each.url).search;
    for (const other of kept) {
      if (name(other.url) === name(each.url) && new URL(other.url).search === search) await store.delete(other, { ignoreVary: true });
    }
  }
};

const kept = async (address, reply, typist = "") => {
  if (reply.status !== 200 || !KINDS.test(reply.headers.get("Content-Type") || "") || !taken(address)) return;
  const headers = new Headers(reply.headers);
  for (const each of ["Content-Encoding", "Content-Length", "Vary"]) headers.delete(each);
  headers.set("X-Saved", new Date().toISOString());
  if (typist) headers.set("X-Typed", typist);
  const body = await reply.blob();
  const store = await caches.open(STORE);
  if (typist) {
    await forgotten(store, typist, address);
    const had = await store.match(address, { ignoreVary: true });
    if (had && !had.headers.get("X-Typed")) headers.delete("X-Typed");
  }
  await store.put(address, new Response(body, { headers }));
};

const marked = async (copy) => {
  if (!/^text\/html/.test(copy.headers.get("Content-Type"))) return copy;
  const when = new Date(copy.headers.get("X-Saved")).toLocaleString("en-GB", { dateStyle: "long", timeStyle: "short" });
  const note = `<p class="saved"><strong>Saved on ${when}.</strong> The service cannot be reached now; this is a copy.</p>`;
  const html = await copy.text();
  const place = /<div id="?said"?[^>]*>/.test(html) ? /<div id="?said"?[^>]*>/ : /<main[^>]*>/;
  return new Response(html.replace(place, (found) => found + note), { headers: copy.headers });
};

const fetched = async (event) => {
  const { request, clientId } = event;
  const typing = request.headers.has("X-Page-Part");
  const asked = fetch(request).then((reply) => {
    if (reply.type === "basic") event.waitUntil(kept(reply.url || request.url, reply.clone(), typing ? clientId : ""));
    return reply;
  });
  const copy = await (await caches.open(STORE)).match(request.url, { ignoreVary: true });
  if (!copy) return asked;
  const late = new Promise((done) => setTimeout(done, PATIENCE));
  return (await Promise.race([asked.catch(() => undefined), late])) || marked(copy);
};

self.addEventListener("fetch", (event) => {
  const { method, url } = event.request;
  if (method === "GET" && url.startsWith(ROOT.href) && taken(url)) event.respondWith(fetched(event));
});

// The first page was there before this script: it tells what it is made of.
self.addEventListener("message", (event) => {
  const addresses = event.data.filter((each) => each.startsWith(ROOT.href) && taken(each));
  event.waitUntil(Promise.allSettled(addresses.map(async (each) => kept(each, await fetch(each)))));
});
