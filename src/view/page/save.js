/** Writing the posture shown down as a taught point: the line is shown first, then written. */
import { postHere } from "./api.js";
import { say } from "./announce.js";
import { ask, open } from "./dialogs.js";
import { byId, element } from "./dom.js";
import { reload } from "./points.js";
import { on, page } from "./state.js";
import { offerFrames } from "./tip.js";

/** A position that cannot be kept says why before anything is typed. */
function offer() {
  const { unkept } = page.state;
  // Not the attribute `disabled`: the reason is read where the focus can go.
  byId("save-open").setAttribute("aria-disabled", unkept !== null);
  byId("save-why").textContent = unkept === null ? "" : `Not now: ${unkept}.`;
}

/** What would be written, kept between the two questions; null while the name is still asked for. */
function prepare(asked) {
  const form = byId("save").querySelector("form");
  byId("save-ask").hidden = asked !== null;
  byId("save-heading").textContent = asked ? "Write this line?" : "Save this posture as a taught point";
  form.querySelector("[type=submit]").textContent = asked ? "Write it" : "Show the line";
  byId("save-row").replaceChildren(...(asked ? [
    element("p", {}, asked.text), element("p", { class: "small" }, `File: ${asked.file}`),
    element("pre", { tabindex: 0, role: "group", "aria-label": "The line" }, asked.row),
  ] : []));
}

async function show(form) {
  const { name, frame } = form.elements;
  const body = { name: name.value.trim(), frame: frame.value, stand: page.state.stand };
  if (!body.name) {
    name.focus();
    throw new Error("A point needs a name.");
  }
  prepare(await postHere("save", { ...body, confirmed: false }));
  // Not the button: a second Enter must not write unread.
  byId("save-heading").focus();
  return body;
}

async function write(body) {
  const { text } = await postHere("save", { ...body, confirmed: true });
  byId("save").close();
  byId("save-result").textContent = text;
  say(text);
  reload();
}

export function start() {
  const dialog = byId("save");
  let asked = null;
  offerFrames(dialog.querySelector("select"));
  on("state", offer);
  byId("save-open").addEventListener("click", () => {
    if (page.state.unkept !== null) {
      say(byId("save-why").textContent);
      return;
    }
    asked = null;
    prepare(null);
    open(dialog);
    dialog.querySelector("[name=name]").focus();
  });
  ask(dialog, async (form) => {
    if (asked) await write(asked);
    else asked = await show(form);
  });
}
