// The page's workers and modules: files beside it, or parts of it where the page is one file.

/** How the one file's few lines of script (web/src/build/onefile.rs) read its parts. */
const inside = /** @type {{ bytes: (id: string) => Uint8Array, inflate: (packed: Uint8Array) => Promise<ArrayBuffer> } | undefined} */ (/** @type {any} */ (globalThis).inside);

/** A worker that runs a script of this folder, or the part of that name. @param {string} name */
export async function workerOf(name) {
  if (!inside) return new Worker(new URL(`./${name}.js`, import.meta.url), { type: "module" });
  const address = URL.createObjectURL(new Blob([await plain(`${name}.js`)], { type: "text/javascript" }));
  const worker = new Worker(address);
  URL.revokeObjectURL(address);
  return worker;
}

/** A module of the folder `pkg`, or the part of that name. @param {string} name @returns {Promise<WebAssembly.Module>} */
export async function moduleOf(name) {
  if (!inside) return WebAssembly.compileStreaming(fetch(new URL(`./pkg/${name}.wasm`, import.meta.url)));
  return WebAssembly.compile(await plain(`${name}.wasm`));
}

/** A part unpacked; what unpacks it (web/unpack) is there only as long. @param {string} id @returns {Promise<ArrayBuffer>} */
async function plain(id) {
  if (!inside) throw new Error(`no part ${id}`);
  const { instance } = await WebAssembly.instantiate(await inside.inflate(inside.bytes("unpack.wasm")));
  const { memory, room, unpack } = /** @type {{ memory: WebAssembly.Memory, room: (length: number) => number, unpack: (at: number, length: number) => number }} */ (/** @type {any} */ (instance.exports));
  const packed = inside.bytes(id);
  const at = room(packed.length);
  new Uint8Array(memory.buffer).set(packed, at);
  const from = unpack(at, packed.length);
  if (from === 0) throw new Error("this copy of the page is damaged; copy it anew");
  // Of the head's eight bytes four tell the length: no part has 4 GB.
  const length = new DataView(packed.buffer, packed.byteOffset).getUint32(5, true);
  return memory.buffer.slice(from, from + length);
}
