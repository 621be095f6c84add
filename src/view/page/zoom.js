/**
 * The part of a drawing that is seen. The whole stays the largest view, so that the paper cannot be
 * lost; a drawing seen whole leaves one-finger strokes to the page.
 */
import { arrow } from "./dom.js";

const MOST = 16;
const STEP = 1.5;

/**
 * @typedef {{whole: number[], seen: number[], paper: HTMLElement, changed: () => void}} View
 * `whole` and `seen` are x, y, width, height in units of the picture.
 */
function look(view, x, y, width) {
  const [wx, wy, ww, wh] = view.whole;
  const w = Math.min(ww, Math.max(ww / MOST, width));
  const h = (w / ww) * wh;
  view.seen = [Math.min(Math.max(x, wx), wx + ww - w), Math.min(Math.max(y, wy), wy + wh - h), w, h];
  view.paper.classList.toggle("zoomed", w < ww);
  view.changed();
}

export function lookWhole(view) {
  look(view, view.whole[0], view.whole[1], view.whole[2]);
}

/** Larger for `by` above 1; the place under `at`, in units of the picture, stays where it is. */
export function zoomBy(view, by, at = null) {
  const [x, y, w, h] = view.seen;
  const [ax, ay] = at ?? [x + w / 2, y + h / 2];
  const width = Math.min(view.whole[2], Math.max(view.whole[2] / MOST, w / by));
  look(view, ax - ((ax - x) * width) / w, ay - ((ay - y) * width) / w, width);
}

export const larger = (view) => zoomBy(view, STEP);
export const smaller = (view) => zoomBy(view, 1 / STEP);

function pan(view, dx, dy) {
  const [x, y, w] = view.seen;
  look(view, x + dx, y + dy, w);
}

/** Brings a place of the picture into what is seen. */
export function reveal(view, [ax, ay]) {
  const [x, y, w, h] = view.seen;
  if (ax < x || ax > x + w || ay < y || ay > y + h) look(view, ax - w / 2, ay - h / 2, w);
}

/** A place on the screen in units of the picture. */
export function placeOn(svg, event) {
  const place = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
  return [place.x, place.y];
}

/** Keys of the paper itself, not of what lies on it. */
function keys(view, event) {
  if (event.target !== view.paper || event.ctrlKey || event.altKey || event.metaKey) return;
  const step = event.shiftKey && arrow(event, view.seen[2] / 8);
  if (step) pan(view, ...step);
  else if (event.key === "+" || event.key === "=") larger(view);
  else if (event.key === "-") smaller(view);
  else if (event.key === "0") lookWhole(view);
  else return;
  event.preventDefault();
}

/** One pointer on the paper shifts it, two stretch it. */
export function listen(view, svg) {
  const fingers = new Map();
  view.paper.addEventListener("keydown", (event) => keys(view, event));
  view.paper.addEventListener("wheel", (event) => {
    if (!event.ctrlKey) return;
    event.preventDefault();
    zoomBy(view, Math.exp(-event.deltaY / 200), placeOn(svg, event));
  }, { passive: false });
  view.paper.addEventListener("pointerdown", (event) => {
    if (event.target.closest(".handle") || event.button !== 0) return;
    fingers.set(event.pointerId, event);
    view.paper.setPointerCapture(event.pointerId);
  });
  view.paper.addEventListener("pointermove", (event) => {
    const before = fingers.get(event.pointerId);
    if (!before) return;
    fingers.set(event.pointerId, event);
    const other = [...fingers.values()].find((finger) => finger.pointerId !== event.pointerId);
    if (other) stretch(view, svg, before, event, other);
    else shift(view, svg, before, event);
  });
  for (const end of ["pointerup", "pointercancel", "lostpointercapture"]) {
    view.paper.addEventListener(end, (event) => fingers.delete(event.pointerId));
  }
}

function shift(view, svg, before, now) {
  const [ax, ay] = placeOn(svg, before);
  const [bx, by] = placeOn(svg, now);
  pan(view, ax - bx, ay - by);
}

function stretch(view, svg, before, now, other) {
  const apart = (finger) => Math.hypot(finger.clientX - other.clientX, finger.clientY - other.clientY);
  zoomBy(view, apart(now) / Math.max(1, apart(before)), placeOn(svg, other));
}
