/** Whether the cell folder is still what the page shows: looked at now and then while the page is seen. */
import { get } from "./api.js";
import { byId, element } from "./dom.js";
import { page } from "./state.js";

const EVERY_MS = 5000;

async function look() {
  if (page.gone || document.visibilityState !== "visible") return;
  const { changed } = await get("fresh");
  const words = changed && `Look: ${changed}. What is shown is of before: stop the program and start notchpin view again.`;
  if ((byId("changed")?.textContent ?? "") === (words ?? "")) return;
  byId("changed")?.replaceChildren(...(words ? [element("p", { class: "alert" }, words)] : []));
}

/** A program that does not answer is told elsewhere. */
const quietly = () => look().catch(() => {});

export function start() {
  setInterval(quietly, EVERY_MS);
  document.addEventListener("visibilitychange", quietly);
}
