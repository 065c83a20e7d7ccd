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

if (onPage) {
  try {
    await start();
    document.getElementById("start")?.remove();
  } catch (reason) {
    const note = document.getElementById("failed");
    note.textContent = `The bench could not start: ${reason?.message ?? reason}. Load the page again, or try another browser.`;
    note.hidden = false;
    document.getElementById("loading").hidden = true;
    console.error(reason);
  }
} else {
  await start();
}
