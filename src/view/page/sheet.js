/** The title block, the choice of geometry and the notes on the position shown. */
import { byId, element, pair } from "./dom.js";
import { move } from "./moves.js";
import { on, page } from "./state.js";

const WORDS = { registered: "as registered", drawn: "as drawn" };

function titleBlock() {
  const { cell, geometry } = page;
  const { verdict, words, lapsed } = cell.verdicts[geometry];
  byId("title-block").replaceChildren(
    ...pair("Cell", cell.name),
    ...pair("Shown", geometry === "drawn" ? cell.sources.drawn : WORDS.registered),
    ...pair(cell.geometries.includes("registered") ? "Registration in force" : "Registration",
      cell.sources.registered ?? "none yet"),
    ...(lapsed ? pair("Look", lapsed, "verdict bad") : []),
    ...pair(lapsed ? "Verdict then" : "Verdict", verdict, lapsed ? null : "verdict"),
    ...pair("What that means", words, lapsed ? "wide bad" : "wide"),
    ...pair("Scale", "as zoomed; lengths in mm, angles in deg"),
  );
}

function geometrySwitch() {
  const both = page.cell.geometries.length > 1;
  const knob = byId("geometry");
  knob.setAttribute("aria-checked", page.geometry === "registered");
  // Not the attribute `disabled`: the reason is read where the focus can go.
  knob.setAttribute("aria-disabled", !both);
  const only = "This cell has no registration yet. Register it to see where things were found.";
  byId("geometry-why").textContent = `Shown now: ${WORDS[page.geometry]}. ${both ? "" : only}`;
}

function swap() {
  if (page.cell.geometries.length < 2) return;
  const geometry = page.geometry === "registered" ? "drawn" : "registered";
  move({ path: "stand", body: { geometry } });
}

function clearance(heading, near) {
  return near ? pair(heading, near.text, near.clear ? null : "bad") : [];
}

function notes() {
  const { state } = page;
  const { around, own } = state.clearances;
  byId("notes").replaceChildren(
    ...pair("Tip, plate's frame", state.tip.plate.text.at, "figures"),
    ...pair("Tip, platter's frame", state.tip.platter?.text.at, "figures"),
    ...pair("How surely", state.tip.plate.text.u95),
    ...pair("Posture", state.posture),
    ...clearance("Nearest around", around),
    ...clearance("Nearest of the arm itself", own),
    ...pair("In the other geometry", state.other?.text, "wide"),
  );
  const looks = state.looks.map((text) => element("li", { class: "bad" }, text));
  byId("looks").replaceChildren(...(looks.length ? looks : [element("li", {}, "Nothing to look at here.")]));
}

export function start() {
  const { cell } = page;
  document.title = `${cell.name} (notchpin view)`;
  byId("name").textContent = cell.name;
  byId("caution").textContent = cell.caution;
  byId("version").textContent = `notchpin ${cell.version}`;
  byId("geometry").addEventListener("click", swap);
  on("geometry", titleBlock);
  on("geometry", geometrySwitch);
  on("state", notes);
  titleBlock();
  geometrySwitch();
}
