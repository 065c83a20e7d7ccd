// Keeps the page on the device, so that it opens without a network. `cargo xtask build` fills in `BUILD` and `FILES`.
//
// Each build has a cache of its own, named by scope and version. A page's addresses carry the version of its build (`?v=`), and
// this worker answers each address from the cache of that version. So an open page goes on with its own files, while the next
// load gets the newest build that is complete here. A newer build can take over at once, and no page ever sees files of two
// builds. Only the files of the list are kept, and a file is kept only if its content has the listed digest.

const BUILD = "";
const FILES = {};

const scope = self.registration.scope;
// The blank at the end keeps two scopes apart where one begins like the other: no address has a blank.
const family = `volute ${scope} `;
const nameOf = (build) => family + build;
const PAGE = "index.html";
// The page of the instructor's desk.
const DESK = "desk.html";
// A host may redirect `index.html`, but it has to serve the folder. So the page is kept under the folder's address.
const addressOf = (file) => new URL(file === PAGE ? "./" : `${file}?v=${BUILD}`, scope).href;

self.addEventListener("install", (event) => {
  // If a fetch fails or brings other bytes, the installation ends, and the browser tries again at a later visit.
  event.waitUntil(keepAll().catch(async (reason) => {
    await caches.delete(nameOf(BUILD));
    throw reason;
  }));
  self.skipWaiting();
});

self.addEventListener("activate", (event) => {
  event.waitUntil(tell());
});

// A page says which build it is, and we answer with the newest one. If no other page is open, the older builds can go.
self.addEventListener("message", (event) => {
  const build = event.data?.build;
  if (typeof build !== "string" || !event.source) return;
  event.source.postMessage({ build: BUILD });
  if (build === BUILD) event.waitUntil(tidy(event.source.id));
});

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== "GET" || !url.href.startsWith(scope)) return;
  const build = url.searchParams.get("v");
  const inside = url.href.slice(scope.length).split(/[?#]/)[0];
  if (request.mode === "navigate") {
    if (inside === "" || inside === PAGE) event.respondWith(answer(addressOf(PAGE), BUILD, request));
    if (inside === DESK) event.respondWith(answer(addressOf(DESK), BUILD, request));
  } else if (build !== null) {
    // A page that makes a package fetches the page as a file. That file is kept under the folder's address.
    event.respondWith(answer(inside === PAGE ? addressOf(PAGE) : url.href, build, request));
  }
});

async function answer(address, build, request) {
  const kept = await caches.match(address, { cacheName: nameOf(build), ignoreVary: true });
  return kept ?? fetch(request);
}

async function keepAll() {
  const cache = await caches.open(nameOf(BUILD));
  const older = await others();
  await Promise.all(Object.entries(FILES).map(async ([file, digest]) => {
    const found = (await keptBefore(file, digest, older)) ?? (await fetched(file, digest));
    await cache.put(addressOf(file), found);
  }));
}

// The file from an older build, if the update has not changed it. So it need not be fetched again.
async function keptBefore(file, digest, older) {
  for (const name of older) {
    const address = file === PAGE ? addressOf(file) : new URL(`${file}?v=${name.slice(family.length)}`, scope).href;
    const found = await caches.match(address, { cacheName: name, ignoreVary: true });
    if (found && (await digestOf(found)) === digest) return anew(found);
  }
  return null;
}

// The file from the browser's own cache if the bytes there are right, else from the host. The page has just fetched most files.
async function fetched(file, digest) {
  for (const cache of file === PAGE ? ["no-cache"] : ["default", "reload"]) {
    const response = await fetch(addressOf(file), { cache });
    if (response.ok && (await digestOf(response)) === digest) return response.redirected ? anew(response) : response;
  }
  throw new Error(`${file} is not the one of build ${BUILD}`);
}

async function digestOf(response) {
  const digest = await crypto.subtle.digest("SHA-256", await response.clone().arrayBuffer());
  return [...new Uint8Array(digest)].map((byte) => byte.toString(16).padStart(2, "0")).join("");
}

// The same answer without the address from which it came. A script would take that address for its own and go on with the version
// in it. And a browser refuses to open a page from an answer that was redirected.
async function anew(response) {
  return new Response(await response.blob(), { headers: response.headers });
}

async function others() {
  return (await caches.keys()).filter((name) => name.startsWith(family) && name !== nameOf(BUILD));
}

async function pages() {
  return self.clients.matchAll({ type: "window", includeUncontrolled: true });
}

async function tell() {
  const open = (await pages()).filter((page) => page.url.startsWith(scope));
  if (open.length === 0) return tidy();
  for (const page of open) page.postMessage({ build: BUILD });
}

async function tidy(asked) {
  const open = (await pages()).filter((page) => page.url.startsWith(scope) && page.id !== asked);
  if (open.length > 0) return;
  for (const name of await others()) await caches.delete(name);
}
