/** What is read aloud: results after a pause, errors at once. */
import { byId, element } from "./dom.js";

const PAUSE_MS = 500;
let timer = 0;

/** Only the last of several sentences in a row is read: a drag says where it ended, not each step. */
export function say(text) {
  clearTimeout(timer);
  const said = byId("said");
  timer = setTimeout(() => {
    if (said.textContent !== text) said.textContent = text;
  }, PAUSE_MS);
}

/** An error stays on the page until something works again; the same one is not read twice. */
export function shout(text) {
  if (byId("alert").textContent === text) return;
  byId("alert").replaceChildren(element("p", { class: "alert" }, text));
}

export function hush() {
  byId("alert").replaceChildren();
}
