/** One point: its postures, and its map with a cross-hair. */
import { postHere } from "./api.js";
import { say, shout } from "./announce.js";
import { arrow, byId, drawn, element, picture, scrolling } from "./dom.js";
import { move } from "./moves.js";
import { on, page } from "./state.js";
import { focusDrawing } from "./scene.js";
import { placeOn } from "./zoom.js";

const FINE = 5;
const COARSE = 40;
/** A cross-hair that moves asks what is under it no oftener than this. */
const ASK_MS = 150;
const FROM = { here: "from here", best: "from the best station", taught: "as taught" };

/** Where track and table stand, in words. */
function station({ track, table }) {
  const parts = [["track", track], ["table", table]].filter(([, reading]) => reading !== null);
  return parts.map(([axis, reading]) => `${axis} ${Number(reading.toFixed(2))}`).join(", ");
}

function posture(one) {
  const at = station(one.stand);
  const words = `${one.posture}, ${FROM[one.from] ?? one.from}${at ? ` (${at})` : ""}`;
  const go = () => move({ path: "stand", body: { stand: one.stand }, done: focusDrawing });
  return element("li", { "data-from": one.from }, element("strong", {}, words), element("span", {}, one.text),
    element("button", { "aria-label": `Go there: ${words}`, onclick: go }, "Go there"));
}

/** Asks for the best posture at a place of the map; the answer moves the drawings, which may be out of sight. */
function ask(name, at, line) {
  const done = ({ held, stand }) => {
    const words = held ? `Held: ${held}.` : `The drawings show the best posture at ${station(stand)}. `;
    const show = held ? null : element("button", { onclick: focusDrawing }, "Look at the drawings");
    line.replaceChildren(words, ...(show ? [show] : []));
    line.classList.toggle("held", Boolean(held));
    say(words);
  };
  move({ path: "map", body: { name, to: at }, done });
}

/** Tells what is under the cross-hair, once it rests for a moment. */
function teller(name, line) {
  let timer = 0;
  let newest = 0;
  const tell = async (at, mine) => {
    try {
      const { text, reached } = await postHere("station", { name, to: at });
      if (mine !== newest) return;
      line.textContent = `Cross-hair at ${text}`;
      line.classList.toggle("held", !reached);
      say(line.textContent);
    } catch (error) {
      if (!page.gone) shout(error.message);
    }
  };
  const forget = () => {
    newest += 1;
    clearTimeout(timer);
  };
  const about = (at) => {
    forget();
    timer = setTimeout(tell, ASK_MS, [...at], newest);
  };
  return { about, forget };
}

function cross(svg, at) {
  const { x, y, width, height } = svg.viewBox.baseVal;
  const lines = drawn("path", { class: "cross" });
  const back = drawn("path", { class: "cross back" });
  svg.append(back, lines);
  return (dx, dy) => {
    at[0] = Math.min(x + width, Math.max(x, at[0] + dx));
    at[1] = Math.min(y + height, Math.max(y, at[1] + dy));
    const d = `M${at[0] - 14} ${at[1]}H${at[0] + 14}M${at[0]} ${at[1] - 14}V${at[1] + 14}`;
    for (const path of [back, lines]) path.setAttribute("d", d);
  };
}

/** Keeps the cross-hair in what is seen of a map that scrolls. */
function follow(box, svg, at) {
  const scale = svg.getScreenCTM()?.a ?? 1;
  box.scrollTo({ left: at[0] * scale - box.clientWidth / 2, top: at[1] * scale - box.clientHeight / 2 });
}

function map(name, { map: text, map_at, map_note }) {
  const svg = picture(text);
  const at = [...map_at];
  const box = scrolling(svg, `Map of ${name}`);
  box.setAttribute("aria-label", `Map of ${name}: arrow keys move a cross-hair, Enter goes there`);
  box.setAttribute("aria-roledescription", "map with cross-hair");
  box.classList.add("map");
  const line = element("p", { class: "line" },
    "The cross-hair begins where track and table stood. Click in the map, or move it with arrow keys (Shift: farther) "
    + "and press Enter.");
  const { about, forget } = teller(name, line);
  const go = () => {
    forget();
    ask(name, [...at], line);
  };
  const shift = cross(svg, at);
  shift(0, 0);
  svg.addEventListener("click", (event) => {
    const [px, py] = placeOn(svg, event);
    shift(px - at[0], py - at[1]);
    go();
  });
  box.addEventListener("keydown", (event) => {
    const step = arrow(event, event.shiftKey ? COARSE : FINE);
    if (event.key === "Enter") go();
    else if (step) {
      shift(...step);
      follow(box, svg, at);
      about(at);
    } else return;
    event.preventDefault();
  });
  return [box, line, element("p", { class: "small" }, map_note)];
}

export function focusRow(name) {
  [...byId("points").querySelectorAll("button")].find((button) => button.dataset.show === name)?.focus();
}

function close() {
  byId("point").hidden = true;
  // A picture that is not shown must not lend its hatch to another one of the same name.
  byId("point-body").replaceChildren();
  focusRow(byId("point").dataset.name);
}

function body(name, told) {
  const all = [];
  if (told.not_from_here) all.push(element("p", { "data-from": "here" }, told.not_from_here));
  if (told.why_not) all.push(element("p", { class: "held" }, told.why_not));
  if (told.postures.length) all.push(element("ul", { class: "ruled-list" }, ...told.postures.map(posture)));
  if (told.map) all.push(...map(name, told));
  else all.push(element("p", { class: "small" }, told.map_why_not ?? "There is no map of it."));
  return [...all, element("button", { onclick: close }, "Close")];
}

/** What was worked out for where track and table stood is not shown once they stand elsewhere. */
function moved() {
  if (byId("point").hidden || byId("point").dataset.at === station(page.state.stand)) return;
  const here = byId("point-body").querySelector("[data-from=here]");
  const told = byId("point-body").querySelector("[data-from=moved]");
  if (told || (!here && byId("point").dataset.at === undefined)) return;
  byId("point-body").querySelectorAll("[data-from=here]").forEach((item) => item.remove());
  byId("point-body").prepend(element("p", { "data-from": "moved" },
    "Track or table stand elsewhere now. ",
    element("button", { onclick: reopen }, "Postures from where they stand")));
}

export function start() {
  on("state", moved);
}

async function load(name) {
  byId("point").dataset.name = name;
  byId("point").dataset.at = station(page.state.stand);
  byId("point").hidden = false;
  byId("point-heading").textContent = `Point ${name}`;
  byId("point-body").replaceChildren(element("p", {}, "Being worked out …"));
  const told = await postHere("point", { name });
  // The answer to an earlier question may come late.
  if (byId("point").dataset.name !== name) return;
  byId("point-body").replaceChildren(...body(name, told));
  say(`Point ${name}: ${told.why_not ?? `${told.postures.length} to choose from.`}`);
}

function failed(error) {
  byId("point-body").replaceChildren(element("p", { class: "held" }, error.message));
  if (!page.gone) shout(error.message);
}

export async function openPoint(name) {
  const loading = load(name).catch(failed);
  byId("point-heading").focus({ preventScroll: true });
  await loading;
  byId("point").scrollIntoView({ block: "nearest" });
}

/** Asks again for what is open, as after the geometry was changed. */
export function reopen() {
  if (!byId("point").hidden) load(byId("point").dataset.name).catch(failed);
}
