/** Making elements. Texts become text nodes, never markup; pictures go through the XML parser. */
const SVG = "http://www.w3.org/2000/svg";

function fill(made, attributes, children) {
  for (const [name, value] of Object.entries(attributes)) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) made.addEventListener(name.slice(2), value);
    else made.setAttribute(name, value === true ? "" : value);
  }
  made.append(...children.filter((child) => child !== null && child !== ""));
  return made;
}

export const byId = (id) => document.getElementById(id);

export function element(name, attributes = {}, ...children) {
  return fill(document.createElement(name), attributes, children);
}

export function drawn(name, attributes = {}, ...children) {
  return fill(document.createElementNS(SVG, name), attributes, children);
}

/** A cell of a table. Roles are written out since narrow windows lay tables out as blocks. */
export function cell(name, ...children) {
  return element("td", { role: "cell", class: name }, ...children);
}

/** The row of a table with its heading, and what little is told of it beside its name. */
export function row(name, small, ...cells) {
  const heading = element("th", { role: "rowheader", scope: "row" }, name, element("small", {}, small));
  return element("tr", { role: "row" }, heading, ...cells);
}

/** Where an arrow key points, as steps to the right and down; null for other keys. */
export function arrow(event, by) {
  const steps = { ArrowLeft: [-by, 0], ArrowRight: [by, 0], ArrowUp: [0, -by], ArrowDown: [0, by] };
  return steps[event.key] ?? null;
}

/** A pair of a description list; nothing where there is nothing to say. */
export function pair(term, text, mark = null) {
  return text ? [element("div", { class: mark }, element("dt", {}, term), element("dd", {}, text))] : [];
}

/** Neither scripts nor references outward, nor styles, which the page's policy refuses with a complaint. */
function clean(root) {
  for (const bad of root.querySelectorAll("script, foreignObject, style, a, image")) bad.remove();
  for (const node of [root, ...root.querySelectorAll("*")]) {
    for (const { name, value } of [...node.attributes]) {
      const outward = name.endsWith("href") && !value.startsWith("#");
      if (outward || name === "style" || name.toLowerCase().startsWith("on")) node.removeAttribute(name);
    }
  }
  return root;
}

/** @returns {SVGSVGElement} */
export function picture(text) {
  const read = new DOMParser().parseFromString(text, "image/svg+xml");
  const root = read.documentElement;
  if (root.namespaceURI !== SVG || root.localName !== "svg" || read.querySelector("parsererror")) {
    throw new Error("A drawing came broken from the program.");
  }
  return document.importNode(clean(root), true);
}

/** The elements of a piece of a picture. */
export function fragment(text) {
  return [...picture(`<svg xmlns="${SVG}">${text}</svg>`).childNodes];
}

/** A picture that names itself keeps its name. */
export function named(svg, label) {
  svg.setAttribute("role", "img");
  if (!svg.hasAttribute("aria-labelledby")) svg.setAttribute("aria-label", label);
}

/** A picture that scrolls inside itself where the window is narrower than its letters can bear. */
export function scrolling(svg, label) {
  named(svg, label);
  const words = `${label}, can be scrolled`;
  return element("div", { class: "scroll", tabindex: 0, role: "group", "aria-label": words }, svg);
}

/**
 * What was typed as a number, or a sentence why it is none. A comma is refused: it could part
 * thousands as well as decimals.
 * @returns {{number: number} | {why: string}}
 */
export function numberOf(typed) {
  const text = typed.trim().replace("\u2212", "-");
  if (/^[+-]?(\d+\.?\d*|\.\d+)$/.test(text)) return { number: Number(text) };
  if (text === "") return { why: "Nothing is written here; write a number." };
  return { why: `"${text}" is not a number; write it with figures and a decimal point, like 12.5.` };
}
