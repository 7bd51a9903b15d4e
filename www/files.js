// Files in and out, without anything leaving this machine.

import { grab } from "./dom.js";

/** Largest file the page takes, bytes: what a phone can hold beside its trace. */
export const MAX_BYTES = 256 * 1024 * 1024;

/**
 * Hands over every file that is chosen, dropped or pasted.
 * @param {(name: string, bytes: Uint8Array) => void} take
 * @param {(problem: string) => void} fail
 */
export function bring(take, fail) {
  const input = grab("file", HTMLInputElement);
  const read = async (/** @type {File | undefined} */ file) => {
    if (!file) return;
    if (file.size > MAX_BYTES) {
      fail(`${file.name} is ${Math.round(file.size / 1048576)} MB; the page takes up to ${MAX_BYTES / 1048576} MB. Use the program for larger ones.`);
      return;
    }
    try {
      take(file.name, new Uint8Array(await file.arrayBuffer()));
    } catch {
      fail(`${file.name} could not be read from the disk. Try it again, or copy it nearer.`);
    }
  };
  input.addEventListener("change", () => {
    void read(input.files?.[0]);
    input.value = "";
  });
  const camera = grab("camera", HTMLInputElement);
  camera.addEventListener("change", () => {
    void read(camera.files?.[0]);
    camera.value = "";
  });
  document.addEventListener("dragover", (e) => e.preventDefault());
  document.addEventListener("drop", (e) => {
    e.preventDefault();
    void read(e.dataTransfer?.files[0]);
  });
  document.addEventListener("paste", (e) => {
    if (e.target instanceof HTMLInputElement || e.target instanceof HTMLTextAreaElement) return;
    const file = e.clipboardData?.files[0];
    if (file) {
      void read(file);
      return;
    }
    const text = e.clipboardData?.getData("text/plain");
    if (text?.trim()) take("", new TextEncoder().encode(text));
  });
}

export function choose() {
  grab("file", HTMLInputElement).click();
}

/**
 * @param {string} name
 * @param {string} text
 * @param {string} type
 */
export function offer(name, text, type) {
  const address = URL.createObjectURL(new Blob([text], { type }));
  const link = document.createElement("a");
  link.href = address;
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(address), 10_000);
}

/**
 * What was gzipped and written in base64.
 * @param {string} text
 */
export async function unpack(text) {
  const packed = Uint8Array.from(atob(text), (c) => c.charCodeAt(0));
  const plain = new Blob([packed]).stream().pipeThrough(new DecompressionStream("gzip"));
  return new Response(plain).arrayBuffer();
}
