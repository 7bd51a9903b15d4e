// Building bits of the page. Texts from files become text, never markup.

/**
 * @typedef {Node | string | null | undefined | false} Child
 */

/** What an element does, by the name of the event; patched along with its looks. @type {WeakMap<Element, Record<string, (e: any) => void>>} */
const acts = new WeakMap();

/** @param {Event} event */
function act(event) {
  const element = event.currentTarget;
  if (element instanceof Element) acts.get(element)?.[event.type]?.(event);
}

/**
 * An element with attributes, listeners (`onclick: fn`, which are handed the event: the element may have been
 * patched into an older one, so they look at its `currentTarget`) and children.
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
    if (key.startsWith("on")) listen(element, key.slice(2), value);
    else if (key === "value" && "value" in element) /** @type {any} */ (element).value = value;
    else element.setAttribute(key, value === true ? "" : String(value));
  }
  for (const child of children.flat()) {
    if (child !== null && child !== undefined && child !== false) element.append(child);
  }
  return element;
}

/** @param {Element} element @param {string} type @param {(e: any) => void} does */
function listen(element, type, does) {
  acts.set(element, { ...acts.get(element), [type]: does });
  element.addEventListener(type, act);
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
 * @param {(e: any) => void} act
 * @param {Record<string, any>} [set]
 */
export function button(words, act, set = {}) {
  return make("button", { type: "button", onclick: act, ...set }, words);
}

/**
 * Shows new children by patching those there are: what has the same `data-key`, or the same kind in the same
 * order, stays the element it was. So a press, the focus and what is being typed outlive every change.
 * @param {Element} into
 * @param {(Child | Child[])[]} children
 */
export function fill(into, children) {
  const next = children.flat().filter((c) => c instanceof Node || typeof c === "string");
  patchChildren(into, next.map((c) => (typeof c === "string" ? document.createTextNode(c) : /** @type {ChildNode} */ (c))));
}

/** @param {Node} node */
function nameOf(node) {
  return node instanceof HTMLElement ? `${node.localName} ${node.dataset.key ?? ""}` : node.nodeName;
}

/** @param {Element} into @param {ChildNode[]} next */
function patchChildren(into, next) {
  const old = [...into.childNodes];
  /** @type {Map<string, ChildNode[]>} */
  const named = new Map();
  for (const node of old) named.set(nameOf(node), [...(named.get(nameOf(node)) ?? []), node]);
  const result = next.map((node) => {
    const was = named.get(nameOf(node))?.shift();
    return was ? patched(was, node) : node;
  });
  const stays = new Set(result);
  for (const node of old) if (!stays.has(node)) node.remove();
  let place = into.firstChild;
  for (const node of result) {
    if (node === place) place = place.nextSibling;
    else into.insertBefore(node, place);
  }
}

/** The old node, made like the new one. @param {ChildNode} old @param {ChildNode} node @returns {ChildNode} */
function patched(old, node) {
  if (!(old instanceof Element && node instanceof Element)) {
    if (old.nodeValue !== node.nodeValue) old.nodeValue = node.nodeValue;
    return old;
  }
  for (const { name } of [...old.attributes]) if (!node.hasAttribute(name) && name !== "open") old.removeAttribute(name);
  for (const { name, value } of [...node.attributes]) if (old.getAttribute(name) !== value) old.setAttribute(name, value);
  for (const type of Object.keys(acts.get(node) ?? {})) old.addEventListener(type, act);
  acts.set(old, acts.get(node) ?? {});
  patchChildren(old, [...node.childNodes]);
  patchValue(old, node);
  return old;
}

/**
 * What is being typed stays until the blank is left; what has `data-own` is the person's alone.
 * @param {Element} old @param {Element} node
 */
function patchValue(old, node) {
  if (old instanceof HTMLSelectElement && node instanceof HTMLSelectElement) old.value = node.value;
  const typed = (/** @type {Element} */ e) => e instanceof HTMLInputElement || e instanceof HTMLTextAreaElement;
  if (!typed(old) || !typed(node)) return;
  const [was, is] = [/** @type {HTMLInputElement} */ (old), /** @type {HTMLInputElement} */ (node)];
  if (is.type === "checkbox") was.checked = is.checked;
  else if (document.activeElement !== was && is.dataset.own === undefined) was.value = is.value;
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
