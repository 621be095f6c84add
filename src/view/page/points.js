/** The list of points and tasks: what is within reach, from where. */
import { post, wait } from "./api.js";
import { say, shout } from "./announce.js";
import { byId, cell, drawn, element, row } from "./dom.js";
import { focusRow, openPoint, reopen, start as startPoint } from "./point.js";
import { on, page } from "./state.js";

const AGAIN_MS = 400;
const BAR = 160;

/** A word and a shape, so that no colour is needed: a disc, a cross, a triangle for what has a condition. */
function verdict(good, yes, condition = null) {
  if (good !== true && good !== false) return "not known yet";
  if (condition) {
    const sign = drawn("svg", { class: "sign", viewBox: "0 0 16 16", "aria-hidden": "true" },
      drawn("path", { d: "M8 2 15 14H1Z" }));
    return element("span", { class: "partly" }, sign, condition);
  }
  const shape = good ? drawn("circle", { cx: 8, cy: 8, r: 6 }) : drawn("path", { d: "M3 3 13 13M13 3 3 13" });
  const sign = drawn("svg", { class: "sign", viewBox: "0 0 16 16", "aria-hidden": "true" }, shape);
  return element("span", { class: good ? "good" : "bad" }, sign, good ? yes : `not ${yes}`);
}

/** The stretches of the travel as a bar; the words beside it say the same. */
function bar(intervals, travel) {
  if (!travel || !(travel[1] > travel[0])) return "";
  const along = (reading) => (BAR * (reading - travel[0])) / (travel[1] - travel[0]);
  const stretch = ([from, to]) =>
    drawn("rect", { x: along(from), y: 3, width: Math.max(2, along(to) - along(from)), height: 10 });
  return drawn("svg", { class: "bar", viewBox: `-1 0 ${BAR + 2} 16`, "aria-hidden": "true" },
    drawn("path", { d: `M0 8H${BAR}M0 2V14M${BAR} 2V14` }), ...intervals.map(stretch));
}

function rowOf(point, travel) {
  const from = ` ${point.frame}${point.taught ? ", taught" : ""}`;
  const open = { onclick: () => openPoint(point.name), "aria-label": `Show ${point.name}` };
  const show = element("button", { "data-show": point.name, ...open }, "Show");
  return row(point.name, from,
    cell("reach", verdict(point.reachable, "reachable", point.condition)), cell("text", point.refused ?? point.text ?? ""),
    cell("from", element("span", {}, point.intervals_text ?? ""), bar(point.intervals ?? [], travel)),
    cell("show", show));
}

function task({ name, possible, text }) {
  const words = verdict(possible, "possible");
  return element("li", {}, element("strong", {}, `Task ${name}`), words, element("span", {}, text ?? ""));
}

/** Rows are made anew while the list is worked out; the focus goes back to the same button. */
function fill(list) {
  const focused = document.activeElement?.dataset?.show;
  byId("points").replaceChildren(...list.points.map((point) => rowOf(point, list.travel)));
  byId("tasks").replaceChildren(...list.tasks.map(task));
  byId("points-note").textContent = list.points.some((point) => point.intervals?.length) ? list.note : "";
  if (focused) focusRow(focused);
}

function summary({ points, tasks }) {
  const reached = points.filter((point) => point.reachable).length;
  const possible = tasks.filter((one) => one.possible).length;
  const partly = points.filter((point) => point.condition).length;
  const words = [];
  if (points.length) words.push(`${reached} of ${points.length} points reachable`);
  if (partly) words.push(`${partly} under a condition`);
  if (tasks.length) words.push(`${possible} of ${tasks.length} tasks possible`);
  return words.length ? `${words.join(", ")}.` : "This cell has no points and no tasks.";
}

/** What the cell names, before anything is worked out. */
function unknown() {
  const points = page.cell.points.map((point) => ({ ...point, reachable: null }));
  return { points, tasks: page.cell.tasks.map((name) => ({ name, possible: null })), travel: null };
}

async function load() {
  const { geometry } = page;
  fill(unknown());
  byId("points-state").textContent = "Being worked out …";
  try {
    for (;;) {
      const list = await post("points", { geometry });
      if (geometry !== page.geometry) return;
      const known = new Set(list.points.map((point) => point.name));
      const rest = list.pending ? unknown().points.filter((point) => !known.has(point.name)) : [];
      fill({ ...list, points: [...list.points, ...rest] });
      if (!list.pending) {
        byId("points-state").textContent = summary(list);
        say(summary(list));
        return;
      }
      await wait(AGAIN_MS);
    }
  } catch (error) {
    byId("points-state").textContent = error.message;
    if (!page.gone) shout(error.message);
  }
}

export function start() {
  startPoint();
  on("geometry", () => {
    load();
    reopen();
  });
  load();
}

/** Asks again, as after a point was written. */
export const reload = load;
