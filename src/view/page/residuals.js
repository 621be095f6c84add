/** What the readings say: drawings of the registration, fetched when they are asked for. */
import { get } from "./api.js";
import { byId, element, picture, scrolling } from "./dom.js";

function figure({ heading, sentence, svg }) {
  const words = element("figcaption", {}, element("h3", {}, heading), element("p", {}, sentence));
  return element("figure", { class: "residual" }, words, scrolling(picture(svg), heading));
}

async function load(body) {
  body.replaceChildren(element("p", {}, "Being drawn …"));
  try {
    const { drawings, why_not } = await get("residuals");
    const why = why_not ? [element("p", {}, why_not)] : [];
    body.replaceChildren(...why, ...drawings.map(figure));
  } catch (error) {
    body.replaceChildren(element("p", { class: "held", role: "alert" }, error.message));
  }
}

export function start() {
  const details = byId("residuals");
  const body = byId("residuals-body");
  details.addEventListener("toggle", () => {
    if (details.open && !body.querySelector("figure")) load(body);
  });
}
