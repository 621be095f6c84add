/** Ending the program, and saying so where it has ended by itself. */
import { get, post } from "./api.js";
import { hush, shout } from "./announce.js";
import { ask, open } from "./dialogs.js";
import { byId, element } from "./dom.js";
import { on, page, setGone } from "./state.js";


function stopped() {
  setGone(true);
  byId("stop").close();
  const words = element("section", { class: "stopped", tabindex: -1 }, element("h2", {}, "Stopped"),
    element("p", {}, "The program has ended. This page can be closed."));
  document.querySelector("main").replaceChildren(words);
  document.querySelector("footer").remove();
  document.querySelector(".skip").remove();
  words.focus();
}

async function askAgain() {
  try {
    await get("cell");
    hush();
  } catch (error) {
    if (!page.gone) shout(error.message);
  }
}

function tellGone() {
  if (!page.gone || !byId("stop-open")) return;
  shout("The program does not answer: it has ended. What is shown is what it told last, and nothing here "
    + "works any more. Start notchpin view again and open the address that it prints.");
  byId("alert").firstChild.append(element("button", { type: "button", onclick: askAgain }, "Ask again"));
}

export function start() {
  byId("stop-open").addEventListener("click", () => open(byId("stop")));
  ask(byId("stop"), async () => {
    await post("stop", {});
    stopped();
  });
  on("gone", tellGone);
}
