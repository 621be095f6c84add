/** Ending the program, and saying so where it has ended by itself. */
import { post } from "./api.js";
import { shout } from "./announce.js";
import { ask, open } from "./dialogs.js";
import { byId, element } from "./dom.js";
import { on, page, setGone } from "./state.js";

function stopped() {
  byId("stop").close();
  const words = element("section", { tabindex: -1 }, element("h2", {}, "Stopped"),
    element("p", {}, "The program has ended. This page can be closed."));
  document.querySelector("main").replaceChildren(words);
  document.querySelector("footer").remove();
  document.querySelector(".skip").remove();
  words.focus();
  setGone(true);
}

function tellGone() {
  if (!page.gone || !byId("stop-open")) return;
  shout("The program does not answer: it has ended. What is shown is what it told last. Start "
    + "notchpin view again and open the address that it prints.");
}

export function start() {
  byId("stop-open").addEventListener("click", () => open(byId("stop")));
  ask(byId("stop"), async () => {
    await post("stop", {});
    stopped();
  });
  on("gone", tellGone);
}
