// Starts the WASM module. The page runs this script, and the page's worker runs it again (`new Worker(src of #boot)`).
// Both get the same binary, whose `main` looks whether there is a window. A worker loses what the page sends before `main`
// has set `onmessage`. So the page waits for the worker's first message.

const here = import.meta.url;
const onPage = typeof document !== "undefined";
// `cargo xtask build` puts a version behind this file's name. The other two files are fetched with the same version, so that no
// cache can mix two builds.
const beside = (name) => new URL(name + new URL(here).search, here);

async function start() {
  if (typeof WebAssembly === "undefined") throw new Error("this browser has no WebAssembly");
  const [glue, answer] = await Promise.all([import(beside("volute-web.js")), fetch(beside("volute-web_bg.wasm"))]);
  if (!answer.ok) throw new Error(`the server answered ${answer.status} for ${answer.url}`);
  // A browser compiles a module while it arrives only if the host sends the right content type. Otherwise we hand over the bytes.
  const streams = (answer.headers.get("content-type") ?? "").startsWith("application/wasm");
  await glue.default({ module_or_path: streams ? answer : await answer.arrayBuffer() });
}

// `service-worker.js` keeps the page on the device, where the browser allows it. A private window and plain HTTP do not.
// We do not keep the page when it stands inside another page or in a package for a learning platform: that address is not ours.
// When a newer build is ready for the next load, the root element gets `data-newer`, and the document gets the event
// `volute-newer`. A reload loses nothing, because the fragment of the address holds the state.
const build = new URL(here).searchParams.get("v");
const askEvery = 60 * 60 * 1000;
// How long after the start the page is put on the device, in ms. Chosen: the first drawing is over by then.
const rest = 4000;

// The browser's service workers. Undefined if it has none or refuses them.
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
  // Only a page that came from the worker asks. Any other page may be newer than the worker.
  workers.controller?.postMessage({ build });
}

async function keep(workers) {
  const script = new URL("service-worker.js", here);
  const registration = await workers.register(script, { updateViaCache: "none" });
  let asked = performance.now();
  document.addEventListener("visibilitychange", () => {
    if (document.hidden || performance.now() - asked < askEvery) return;
    asked = performance.now();
    registration.update().catch(() => {}); // There is no network. We look again later.
  });
}

// A build that cannot start must not stay on the device. The next load then asks the host again.
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
      setTimeout(() => keep(workers).catch(() => {}), rest); // The browser refuses, or has no room or no network. The page works without it.
    }
  } catch (reason) {
    if (workers?.controller) await forget(workers).catch(() => {}); // We report why the start failed, which matters more.
    const note = document.getElementById("failed");
    note.textContent = `The bench could not start: ${reason?.message ?? reason}. Load the page again, or try another browser.`;
    note.hidden = false;
    document.getElementById("loading").hidden = true;
    console.error(reason);
  }
} else {
  await start();
}
