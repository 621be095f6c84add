/**
 * Requests that move something. One is under way at a time, and only the newest wanted is sent after
 * it: the drawing follows the hand and never works off a queue.
 */
import { post } from "./api.js";
import { hush, say, shout } from "./announce.js";
import { page, show } from "./state.js";

const TIMES_KEPT = 500;
/** How long the answers to drags took, ms; read by tests. */
window.notchpinTimes = [];

/**
 * @typedef {{path: string, body: object, moved?: string, done?: (state: object) => void}} Move
 * @param {Move} next
 */
export function move(next) {
  page.wanted = added(page.wanted, next);
  if (!page.underway) work();
}

/** Steps of the tip that were not sent yet add up; everything else replaces what was wanted. */
function added(before, next) {
  const one = before?.body.by_mm;
  const two = next.body.by_mm;
  if (!one || !two || before.moved !== next.moved) return next;
  return { ...next, body: { ...next.body, by_mm: [one[0] + two[0], one[1] + two[1]] } };
}

async function work() {
  while (page.wanted) {
    page.underway = page.wanted;
    page.wanted = null;
    await send(page.underway);
  }
  page.underway = null;
}

async function send({ path, body, moved, done }) {
  const begun = performance.now();
  try {
    const state = await post(path, { geometry: page.geometry, stand: page.state.stand, ...body });
    if (path === "drag") note(performance.now() - begun);
    hush();
    show(state, moved);
    say(sentences(state));
    done?.(state);
  } catch (error) {
    if (!page.gone) shout(error.message);
    show(page.state);
  }
}

function note(ms) {
  window.notchpinTimes.push(ms);
  if (window.notchpinTimes.length > TIMES_KEPT) window.notchpinTimes.shift();
}

function sentences(state) {
  const held = state.held ? [`Held: ${state.held}`] : [];
  const looks = state.looks.length ? state.looks : ["Nothing to look at here"];
  const all = [...held, `Tip ${state.tip.plate.text.at}`, ...looks];
  return all.map((text) => text.replace(/\.?$/, ".")).join(" ");
}

const axisOf = (id) => page.cell.axes.find((axis) => axis.id === id);
const joints = () => page.cell.axes.filter((axis) => axis.kind === "joint");

export function readingOf(stand, axis) {
  return axis.kind === "joint" ? stand.joints[joints().indexOf(axis)] : stand[axis.kind];
}

function standWith(stand, axis, reading) {
  if (axis.kind !== "joint") return { ...stand, [axis.kind]: reading };
  const place = joints().indexOf(axis);
  return { ...stand, joints: stand.joints.map((old, k) => (k === place ? reading : old)) };
}

/** Where everything stands once what was asked for is answered. */
function standAhead() {
  return (page.wanted ?? page.underway)?.body.stand ?? page.state.stand;
}

export function setAxis(id, reading) {
  move({ path: "stand", body: { stand: standWith(standAhead(), axisOf(id), reading) } });
}

/** A step stops at a limit, but one that lies outside already is not pulled in unasked. */
export function stepAxis(id, by) {
  const axis = axisOf(id);
  const from = readingOf(standAhead(), axis);
  let to = from + by;
  if (axis.high !== null && from <= axis.high) to = Math.min(to, axis.high);
  if (axis.low !== null && from >= axis.low) to = Math.max(to, axis.low);
  setAxis(id, to);
}

export function keyAxis(id, event) {
  const { step, coarse, low, high } = axisOf(id);
  const by = event.shiftKey ? coarse : step;
  const arrows = { ArrowRight: by, ArrowUp: by, ArrowLeft: -by, ArrowDown: -by };
  const steps = { ...arrows, PageUp: coarse, PageDown: -coarse };
  const limits = { Home: low, End: high };
  if (event.key in steps) stepAxis(id, steps[event.key]);
  else if (typeof limits[event.key] === "number") setAxis(id, limits[event.key]);
  else return;
  event.preventDefault();
}
