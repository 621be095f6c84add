/** The table of axis readings: to be read, typed and slid. */
import { byId, cell, element, numberOf, row } from "./dom.js";
import { keyAxis, readingOf, setAxis, shownOf } from "./moves.js";
import { on, page } from "./state.js";

function unitOf(axis) {
  return axis.unit ? ` ${axis.unit}` : "";
}

function limitsOf(axis, { limits }) {
  if (limits === "") return axis.endless ? "turns without end" : "no limits";
  return limits + unitOf(axis);
}

function rowOf(axis) {
  const kind = axis.id === axis.name ? "" : ` (${axis.id})`;
  const name = axis.name + kind;
  const wrong = element("p", { class: "held", id: `wrong-${axis.id}` });
  const typed = element("input", {
    inputmode: "decimal", autocomplete: "off", "data-axis": axis.id, "aria-label": `${name}, reading${unitOf(axis)}`,
    "aria-describedby": `wrong-${axis.id} room-${axis.id}`, onchange: () => take(one),
    onkeydown: (event) => event.key === "Enter" && take(one),
  });
  const { low, high } = shownOf(axis.id);
  const slid = low === null || high === null ? null : element("input", {
    type: "range", step: "any", "aria-label": `${name}, along its travel`,
    oninput: () => slide(one), onkeydown: (event) => keyAxis(axis.id, event),
  });
  const room = element("span", { id: `room-${axis.id}` });
  const limits = element("span");
  const made = row(axis.name, kind,
    cell("typed", typed, element("span", {}, unitOf(axis)), wrong), cell("slid", slid ?? ""),
    cell("limits", limits), cell("room", room));
  const one = { axis, typed, slid, limits, room, wrong, made, told: "" };
  return one;
}

function take(one) {
  const { axis, typed, wrong } = one;
  if (typed.value.trim() === one.told) return;
  const { number, why } = numberOf(typed.value);
  typed.setAttribute("aria-invalid", Boolean(why));
  wrong.textContent = why ?? "";
  if (why) return;
  one.told = typed.value.trim();
  setAxis(axis.id, number);
}

/** A hand on the slider means whole steps, and the limits where it reaches them. */
function slide({ axis, slid }) {
  const at = Number(slid.value);
  const stepped = Math.round(at / axis.step) * axis.step;
  const { low, high } = shownOf(axis.id);
  setAxis(axis.id, Math.min(high, Math.max(low, stepped)));
}

function update(one) {
  const { axis, typed, slid, limits, room, wrong, made } = one;
  const shown = shownOf(axis.id);
  limits.textContent = limitsOf(axis, shown);
  made.classList.toggle("bad", !shown.inside);
  room.textContent = shown.inside ? shown.room : `outside its limits: ${shown.room}`;
  // What is being typed stays until it was taken.
  const typing = document.activeElement === typed && typed.value.trim() !== one.told;
  if (!typing) {
    typed.value = one.told = shown.text;
    typed.removeAttribute("aria-invalid");
    wrong.textContent = "";
  }
  if (slid) {
    slid.min = shown.low;
    slid.max = shown.high;
    slid.value = readingOf(page.state.stand, axis);
    slid.setAttribute("aria-valuetext", `${shown.text}${unitOf(axis)}`);
  }
}

export function start() {
  const rows = page.cell.axes.map(rowOf);
  byId("readings").append(...rows.map((one) => one.made));
  on("state", () => rows.forEach(update));
}
