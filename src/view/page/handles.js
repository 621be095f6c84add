/**
 * Rings on the drawings that can be taken hold of, with the hand or with keys. They stay the same
 * elements from state to state, so that focus and the hand's hold survive.
 */
import { arrow, drawn } from "./dom.js";
import { keyAxis, move, readingOf, shownOf } from "./moves.js";
import { page } from "./state.js";
import { placeOn } from "./zoom.js";

/** Half of 44 CSS px, the least that a gloved finger hits. */
const REACH_PX = 22;
const FINE_MM = 1;
const COARSE_MM = 10;

function make(view, id) {
  const group = drawn("g", { class: "handle", tabindex: 0, "data-handle": id },
    drawn("circle", { class: "reach", r: REACH_PX }),
    drawn("circle", { class: "halo", r: 17 }),
    drawn("circle", { class: "ring", r: 8 }),
    drawn("path", { class: "stuck", d: "M0-11 11 0 0 11-11 0Z" }),
    drawn("circle", { class: "dot", r: 1.5 }));
  const handle = { id, view, group, key: `${view.name}/${id}` };
  group.addEventListener("keydown", (event) => keys(handle, event));
  group.addEventListener("focus", () => view.reveal(handle.at));
  group.addEventListener("pointerdown", (event) => take(view, event));
  // `touch-action` does not reach shapes inside a picture everywhere; without this a finger scrolls the page.
  group.addEventListener("touchstart", (event) => event.preventDefault(), { passive: false });
  return handle;
}

/** Reaches overlap where rings are close: the nearest ring is meant. */
function take(view, event) {
  if (event.button !== 0) return;
  const [x, y] = placeOn(view.overlay, event);
  const off = ({ at }) => Math.hypot(at[0] - x, at[1] - y);
  const handle = [...view.handles.values()].reduce((best, other) => (off(other) < off(best) ? other : best));
  event.preventDefault();
  handle.group.focus({ focusVisible: false, preventScroll: true });
  hold(handle, event);
}

function hold(handle, event) {
  const { group, view, key, id } = handle;
  // The ring keeps its distance from the hand, so that taking hold moves nothing.
  const [x, y] = placeOn(view.overlay, event);
  const off = [handle.at[0] - x, handle.at[1] - y];
  const follow = (moved) => {
    if (moved.pointerId !== event.pointerId) return;
    const [px, py] = placeOn(view.overlay, moved);
    move({ path: "drag", moved: key, body: { handle: id, view: view.name, to: [px + off[0], py + off[1]] } });
  };
  const release = (ended) => {
    if (ended.pointerId !== event.pointerId) return;
    group.removeEventListener("pointermove", follow);
    group.removeEventListener("lostpointercapture", release);
    group.classList.remove("taken");
  };
  group.setPointerCapture(event.pointerId);
  group.classList.add("taken");
  group.addEventListener("pointermove", follow);
  group.addEventListener("lostpointercapture", release);
}

function keys(handle, event) {
  if (event.ctrlKey || event.altKey || event.metaKey) return;
  if (handle.id !== "tip") {
    keyAxis(handle.id, event);
    return;
  }
  const step = arrow(event, event.shiftKey ? COARSE_MM : FINE_MM);
  if (!step) return;
  event.preventDefault();
  const by_mm = [step[0], -step[1]];
  move({ path: "drag", moved: handle.key, body: { handle: "tip", view: handle.view.name, by_mm } });
}

function name(handle, label) {
  const { group, id } = handle;
  group.setAttribute("aria-label", id === "tip" ? `${label}, ${page.state.tip.plate.text.at}` : label);
  const axis = page.cell.axes.find((one) => one.id === id);
  if (!axis) {
    group.setAttribute("role", "group");
    group.setAttribute("aria-roledescription", "movable point");
    return;
  }
  // A slider has ends; an endless table has none.
  const shown = shownOf(id);
  const ends = shown.low !== null && shown.high !== null;
  group.setAttribute("role", ends ? "slider" : "spinbutton");
  if (ends) {
    group.setAttribute("aria-valuemin", shown.low);
    group.setAttribute("aria-valuemax", shown.high);
  }
  group.setAttribute("aria-valuenow", readingOf(page.state.stand, axis));
  group.setAttribute("aria-valuetext", `${shown.text}${axis.unit && ` ${axis.unit}`}, ${shown.room}`);
}

/** Brings the rings of a view up to the state shown. */
export function handlesOf(view) {
  const here = page.state.handles.filter((one) => one.view === view.name);
  for (const { id, at, label } of here) {
    if (!view.handles.has(id)) {
      const made = make(view, id);
      view.handles.set(id, made);
      view.overlay.append(made.group);
    }
    const handle = view.handles.get(id);
    handle.at = at;
    handle.group.classList.toggle("is-held", Boolean(page.state.held) && page.moved === handle.key);
    name(handle, label);
  }
  for (const [id, { group }] of view.handles) {
    if (here.some((one) => one.id === id)) continue;
    group.remove();
    view.handles.delete(id);
  }
  placeHandles(view);
}

/** Rings have the same size on the screen however the drawing is zoomed. */
export function placeHandles(view) {
  const scale = view.overlay.getScreenCTM()?.a;
  if (!scale) return;
  for (const { group, at } of view.handles.values()) {
    group.setAttribute("transform", `translate(${at[0]} ${at[1]}) scale(${1 / scale})`);
  }
}
