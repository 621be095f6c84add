/** What is read aloud: results after a pause, errors at once. */
import { element } from "./dom.js";

const PAUSE_MS = 500;
let timer = 0;

/** Only the last of several sentences in a row is read: a drag says where it ended, not each step. */
export function say(text) {
  clearTimeout(timer);
  const said = document.getElementById("said");
  timer = setTimeout(() => {
    if (said.textContent !== text) said.textContent = text;
  }, PAUSE_MS);
}

/** An error stays on the page until something works again. */
export function shout(text) {
  document.getElementById("alert").replaceChildren(element("p", { class: "alert" }, text));
}

export function hush() {
  document.getElementById("alert").replaceChildren();
}
