/** Where the tip is in each frame, and bringing it to a place. */
import { byId, element, numberOf, pair } from "./dom.js";
import { move } from "./moves.js";
import { on, page } from "./state.js";

const FRAMES = { plate: "In the plate's frame", platter: "In the platter's frame" };

function readout(frame, heading) {
  const { text } = page.state.tip[frame];
  return element("div", { "data-tip": frame }, element("h3", {}, heading), element("dl", {},
    ...pair("Place", text.at, "figures"), ...pair("Direction", text.direction),
    ...pair("How surely", text.u95 || "not told: as drawn, nothing was measured")));
}

function update() {
  // What was refused at another position says nothing of this one.
  byId("place-held").textContent = "";
  const frames = Object.entries(FRAMES).filter(([frame]) => page.state.tip[frame]);
  byId("tip").replaceChildren(...frames.map(([frame, heading]) => readout(frame, heading)));
}

/** The fields as numbers, or null with the focus in the first that is none. */
function numbersOf(form, held) {
  const numbers = {};
  held.textContent = "";
  for (const name of ["elevation", "z", "y", "x"]) {
    const field = form.elements[name];
    const free = name === "elevation" && field.value.trim() === "";
    const { number = null, why } = free ? {} : numberOf(field.value);
    numbers[name] = number;
    field.setAttribute("aria-invalid", Boolean(why));
    if (!why) continue;
    held.textContent = `${field.labels[0].textContent.trim()}: ${why}`;
    field.focus();
  }
  return held.textContent ? null : numbers;
}

function place(form) {
  const held = byId("place-held");
  const numbers = numbersOf(form, held);
  if (!numbers) return;
  const { x, y, z, elevation } = numbers;
  move({
    path: "place",
    body: { frame: form.elements.frame.value, at_mm: [x, y, z], elevation_deg: elevation },
    done: (state) => {
      held.textContent = state.held ? `Held: ${state.held}` : "";
    },
  });
}

/** Frames to choose from; a cell without a table has no platter. */
export function offerFrames(select) {
  if (page.state.tip.platter) select.append(element("option", {}, "platter"));
}

export function start() {
  const form = byId("place");
  offerFrames(form.elements.frame);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    place(form);
  });
  on("state", update);
}
