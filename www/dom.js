// Building bits of the page. Texts from files become text, never markup.

/**
 * @typedef {Node | string | null | undefined | false} Child
 */

/**
 * An element with attributes, listeners (`onclick: fn`) and children.
 * @template {keyof HTMLElementTagNameMap} K
 * @param {K} name
 * @param {Record<string, any>} [set]
 * @param {...(Child | Child[])} children
 * @returns {HTMLElementTagNameMap[K]}
 */
export function make(name, set = {}, ...children) {
  const element = document.createElement(name);
  for (const [key, value] of Object.entries(set)) {
    if (value === undefined || value === null || value === false) continue;
    if (key.startsWith("on")) element.addEventListener(key.slice(2), value);
    else if (key === "value" && "value" in element) /** @type {any} */ (element).value = value;
    else element.setAttribute(key, value === true ? "" : String(value));
  }
  for (const child of children.flat()) {
    if (child !== null && child !== undefined && child !== false) element.append(child);
  }
  return element;
}

/**
 * The element with this id, of this kind.
 * @template {Element} T
 * @param {string} id
 * @param {{ new (): T }} kind
 * @returns {T}
 */
export function grab(id, kind) {
  const found = document.getElementById(id);
  if (!(found instanceof kind)) throw new Error(`the page has no ${id}`);
  return found;
}

/**
 * A button with words on it.
 * @param {string} words
 * @param {() => void} act
 * @param {Record<string, any>} [set]
 */
export function button(words, act, set = {}) {
  return make("button", { type: "button", onclick: act, ...set }, words);
}

/**
 * Puts new children in, keeping the focus on whatever has the same `data-key`.
 * @param {HTMLElement} into
 * @param {(Child | Child[])[]} children
 */
export function fill(into, children) {
  const active = document.activeElement;
  const key = active instanceof HTMLElement && into.contains(active) ? active.dataset.key : undefined;
  const kept = into.scrollTop;
  into.replaceChildren(...children.flat().filter((c) => c instanceof Node || typeof c === "string"));
  into.scrollTop = kept;
  if (key !== undefined) {
    const again = into.querySelector(`[data-key="${CSS.escape(key)}"]`);
    if (again instanceof HTMLElement) again.focus({ preventScroll: true });
  }
}

/**
 * A small drawing beside words that say the same: a thin line, and a bold one.
 * @param {string} box
 * @param {string} thin
 * @param {string} bold
 */
export function drawing(box, thin, bold) {
  const svg = document.createElementNS("http://www.w3.org/2000/svg", "svg");
  svg.setAttribute("viewBox", box);
  svg.setAttribute("aria-hidden", "true");
  for (const [weight, course] of [["thin", thin], ["bold", bold]]) {
    const line = document.createElementNS("http://www.w3.org/2000/svg", "path");
    line.setAttribute("d", course);
    line.setAttribute("class", weight);
    svg.append(line);
  }
  return svg;
}
