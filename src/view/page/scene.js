/** The two drawings: what stands still, what moves, and how they are looked at. */
import { byId, drawn, element, fragment, named, picture } from "./dom.js";
import { handlesOf, placeHandles } from "./handles.js";
import { on, page } from "./state.js";
import { larger, listen, lookWhole, reveal, smaller } from "./zoom.js";

const VIEWS = [
  { name: "plan", heading: "Plan", from: "seen from above" },
  { name: "elevation", heading: "Elevation", from: "seen along +y" },
];

const HINT = "Drag a ring, or Tab to it and use the arrow keys (Shift: coarse).";

function tool(view, label, act) {
  const name = `${label}: ${view.heading.toLowerCase()}`;
  return element("button", { "aria-label": name, onclick: () => act(view) }, label);
}

function build(view) {
  view.overlay = drawn("svg", { class: "handles" });
  view.paper = element("div", {
    class: "paper", tabindex: 0, role: "group", id: `${view.name}-paper`,
    "aria-label": `${view.heading}. Plus and minus keys zoom, Shift and arrow keys move the paper.`,
  }, view.overlay);
  view.line = element("p", { class: "line" }, HINT);
  view.handles = new Map();
  view.changed = () => {
    for (const svg of view.paper.children) svg.setAttribute("viewBox", view.seen.join(" "));
    placeHandles(view);
  };
  const tools = [["Larger", larger], ["Smaller", smaller], ["Whole", lookWhole]];
  byId(view.name).append(
    element("figcaption", {}, element("h2", {}, view.heading, element("small", {}, ` ${view.from}`)),
      element("div", { class: "tools" }, ...tools.map(([label, act]) => tool(view, label, act)))),
    view.paper, view.line);
  listen(view, view.overlay);
  new ResizeObserver(() => placeHandles(view)).observe(view.paper);
}

/** Puts in the drawing of the geometry shown; keeps the zoom if the picture has the same size. */
function lay(view) {
  const svg = picture(page.cell.drawings[page.geometry][view.name]);
  const box = svg.viewBox.baseVal;
  const whole = [box.x, box.y, box.width, box.height];
  const same = view.whole?.join() === whole.join();
  svg.removeAttribute("width");
  svg.removeAttribute("height");
  named(svg, `${view.heading} of the cell, as ${page.geometry}, ${view.from}`);
  view.moving = svg.querySelector("g.moving");
  view.paper.querySelector("svg:not(.handles)")?.remove();
  view.paper.prepend(svg);
  view.whole = whole;
  if (same) view.changed();
  else lookWhole(view);
}

/** Columns as wide as their pictures, so that both drawings have one scale. */
function columns() {
  const widths = VIEWS.map((view) => `minmax(0, ${view.whole[2]}fr)`);
  byId("sheet").style.setProperty("--columns", widths.join(" "));
}

function update(view) {
  view.moving?.replaceChildren(...fragment(page.state.moving[view.name]));
  handlesOf(view);
  const { held } = page.state;
  const holds = held && (page.moved === "" || page.moved.startsWith(view.name));
  view.line.classList.toggle("held", Boolean(holds));
  view.line.textContent = holds ? `Held: ${held}` : HINT;
}

export function focusDrawing() {
  const paper = byId("plan-paper");
  paper.focus();
  paper.scrollIntoView({ block: "nearest" });
}

export function start() {
  for (const view of VIEWS) {
    view.reveal = (at) => reveal(view, at);
    build(view);
    lay(view);
    on("geometry", () => lay(view));
    on("state", () => update(view));
  }
  columns();
  on("geometry", columns);
}
