// Starts the WASM module: as the page's script, and again as the script of its worker (`new Worker(src of #boot)`).
// The same binary serves both; its `main` asks whether it has a window. In a worker, what the page sends before `main`
// has set `onmessage` would be lost: the page waits for the worker's first message.

const here = import.meta.url;
const onPage = typeof document !== "undefined";
// Glue and binary share the version that `cargo xtask build` puts behind this file's name, so no cache can mix two builds.
const beside = (name) => new URL(name + new URL(here).search, here);

async function start() {
  if (typeof WebAssembly === "undefined") throw new Error("this browser has no WebAssembly");
  const [glue, answer] = await Promise.all([import(beside("volute-web.js")), fetch(beside("volute-web_bg.wasm"))]);
  if (!answer.ok) throw new Error(`the server answered ${answer.status} for ${answer.url}`);
  // Streaming compilation insists on the right content type. Some hosts send another: the bytes do then.
  const streams = (answer.headers.get("content-type") ?? "").startsWith("application/wasm");
  await glue.default({ module_or_path: streams ? answer : await answer.arrayBuffer() });
}

// The page kept on the device by `service-worker.js`, where the browser allows that: not in a private window, not over
// plain HTTP. Inside another page, or in a package for a learning platform, the address is not ours to keep things for.
// When a newer build than this page's is ready for the next load, the root element gets `data-newer` and the document an
// event `volute-newer`. The fragment holds the state, so a reload loses nothing.
const build = new URL(here).searchParams.get("v");
const askEvery = 60 * 60 * 1000;
// From the start to where the page is kept, in ms: chosen.
const rest = 4000;

// Undefined or refused means: without.
function keeper() {
  try {
    return navigator.serviceWorker;
  } catch {
    return undefined;
  }
}

function hear(workers) {
  workers.addEventListener("message", ({ data }) => {
    const root = document.documentElement;
    if (typeof data?.build !== "string" || data.build === build || "newer" in root.dataset) return;
    root.dataset.newer = "";
    document.dispatchEvent(new Event("volute-newer"));
  });
  workers.startMessages();
  // A page that the worker did not serve may be newer than the worker: only the others ask.
  workers.controller?.postMessage({ build });
}

async function keep(workers) {
  const script = new URL("service-worker.js", here);
  const registration = await workers.register(script, { updateViaCache: "none" });
  let asked = performance.now();
  document.addEventListener("visibilitychange", () => {
    if (document.hidden || performance.now() - asked < askEvery) return;
    asked = performance.now();
    registration.update().catch(() => {}); // No network: the next look will tell.
  });
}

// What cannot start must not be kept: the next load asks the host again.
async function forget(workers) {
  const registration = await workers.getRegistration(new URL("./", here));
  const family = `volute ${registration?.scope} `;
  await registration?.unregister();
  for (const name of await caches.keys()) if (name.startsWith(family)) await caches.delete(name);
}

if (onPage) {
  const packed = document.querySelector("meta[name=volute-package]") !== null;
  const workers = build === null || packed ? undefined : keeper();
  try {
    await start();
    if (workers && window.top === window) {
      hear(workers);
      // After the first drawing has had the processors to itself.
      setTimeout(() => keep(workers).catch(() => {}), rest); // Refused, full or out of reach: the page works without.
    }
  } catch (reason) {
    if (workers?.controller) await forget(workers).catch(() => {}); // The reason above matters more.
    const note = document.getElementById("failed");
    note.textContent = `The bench could not start: ${reason?.message ?? reason}. Load the page again, or try another browser.`;
    note.hidden = false;
    document.getElementById("loading").hidden = true;
    console.error(reason);
  }
} else {
  await start();
}
