// Printing: what comes out of the printer is the cut's sheet, or the look picture where there is no plan; never the
// page. The document is made by the library; its style rules are taken only for the printer, and its marks of
// style are set through script, as the page's policy wants it.

import { grab } from "./dom.js";

export class Printer {
  constructor() {
    this.text = "";
    addEventListener("beforeprint", () => this.#lay());
    addEventListener("afterprint", () => this.#clear());
  }

  /** What the next printing shows. @param {string} text an HTML document; empty: the page as it is */
  load(text) {
    this.text = text;
  }

  #lay() {
    if (this.text === "") return;
    // By other names until script sets them: the page's policy takes no style from a text.
    const text = this.text.replace(/<(\/?)style\b/g, "<$1x-style").replace(/ style="/g, ' data-style="');
    const { body } = new DOMParser().parseFromString(text, "text/html");
    const rules = new CSSStyleSheet({ media: "print" });
    rules.replaceSync([...body.ownerDocument.querySelectorAll("x-style")].map((s) => s.textContent).join("\n"));
    document.adoptedStyleSheets = [rules];
    for (const element of body.querySelectorAll("x-style")) element.remove();
    for (const element of body.querySelectorAll("[data-style]")) {
      const said = element.getAttribute("data-style") ?? "";
      if (element instanceof SVGElement || element instanceof HTMLElement) element.style.cssText = said;
    }
    grab("print", HTMLElement).replaceChildren(...body.childNodes);
    document.documentElement.dataset.print = "";
  }

  #clear() {
    document.adoptedStyleSheets = [];
    grab("print", HTMLElement).replaceChildren();
    delete document.documentElement.dataset.print;
  }
}
