/**
 * Requests that move something. One is under way at a time. Of what the hand wants meanwhile only the newest
 * is sent after it: the drawing follows the hand and never works off a queue. Readings that are set or stepped
 * meanwhile are set on whatever stands then, so that neither undoes the other.
 */
import { post } from "./api.js";
import { hush, say, shout } from "./announce.js";
import { page, show } from "./state.js";

const TIMES_KEPT = 500;
/** How long the answers to drags took, ms; read by tests. */
window.notchpinTimes = [];

/**
 * `turn` gives the stand that is wanted from the one that is there by then.
 *
 * @typedef {import("./state.js").Stand} Stand
 * @typedef {{path: string, body?: object, turn?: (stand: Stand) => Stand, moved?: string,
 *   done?: (state: object) => void}} Move
 * @param {Move} next
 */
export function move(next) {
  const before = page.wanted.pop();
  page.wanted.push(...(before ? joined(before, next) : [next]));
  if (!page.underway) work();
}

/** Turns follow each other, and so do steps of the tip; of other moves that were not sent yet the newest counts. */
function joined(before, next) {
  if (before.turn && next.turn) return [{ ...next, turn: (stand) => next.turn(before.turn(stand)) }];
  if (before.turn || next.turn) return [before, next];
  const one = before.body.by_mm;
  const two = next.body.by_mm;
  if (!one || !two || before.moved !== next.moved) return [next];
  return [{ ...next, body: { ...next.body, by_mm: [one[0] + two[0], one[1] + two[1]] } }];
}

async function work() {
  while (page.wanted.length) {
    page.underway = page.wanted.shift();
    await send(page.underway);
  }
  page.underway = null;
}

async function send({ path, body, turn, moved, done }) {
  const begun = performance.now();
  const { geometry, state: { stand } } = page;
  try {
    const state = await post(path, { geometry, stand: turn ? turn(stand) : stand, ...body });
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
/** An axis as it stands now: its reading in words, and its limits in the geometry shown. */
export const shownOf = (id) => page.state.axes.find((one) => one.id === id);
const joints = () => page.cell.axes.filter((axis) => axis.kind === "joint");

export function readingOf(stand, axis) {
  return axis.kind === "joint" ? stand.joints[joints().indexOf(axis)] : stand[axis.kind];
}

function standWith(stand, axis, reading) {
  if (axis.kind !== "joint") return { ...stand, [axis.kind]: reading };
  const place = joints().indexOf(axis);
  return { ...stand, joints: stand.joints.map((old, k) => (k === place ? reading : old)) };
}

export function setAxis(id, reading) {
  move({ path: "stand", turn: (stand) => standWith(stand, axisOf(id), reading) });
}

/** A step stops at a limit, but one that lies outside already is not pulled in unasked. */
export function stepAxis(id, by) {
  const axis = axisOf(id);
  const { low, high } = shownOf(id);
  const turn = (stand) => {
    const from = readingOf(stand, axis);
    let to = from + by;
    if (high !== null && from <= high) to = Math.min(to, high);
    if (low !== null && from >= low) to = Math.max(to, low);
    return standWith(stand, axis, to);
  };
  move({ path: "stand", turn });
}

export function keyAxis(id, event) {
  const { step, coarse } = axisOf(id);
  const { low, high } = shownOf(id);
  const by = event.shiftKey ? coarse : step;
  const arrows = { ArrowRight: by, ArrowUp: by, ArrowLeft: -by, ArrowDown: -by };
  const steps = { ...arrows, PageUp: coarse, PageDown: -coarse };
  const limits = { Home: low, End: high };
  if (event.key in steps) stepAxis(id, steps[event.key]);
  else if (typeof limits[event.key] === "number") setAxis(id, limits[event.key]);
  else if (event.key in limits) say(`${axisOf(id).name} has no limit to go to.`);
  else return;
  event.preventDefault();
}
