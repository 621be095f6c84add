/** Puts the page together: asks for the cell once, then every part looks after itself. */
import { get } from "./api.js";
import { shout } from "./announce.js";
import { page, show } from "./state.js";
import * as fresh from "./fresh.js";
import * as points from "./points.js";
import * as readings from "./readings.js";
import * as residuals from "./residuals.js";
import * as save from "./save.js";
import * as scene from "./scene.js";
import * as sheet from "./sheet.js";
import * as stop from "./stop.js";
import * as tip from "./tip.js";

try {
  page.cell = await get("cell");
  page.geometry = page.cell.geometries[0];
  page.state = page.cell.start[page.geometry];
  for (const part of [stop, sheet, scene, readings, tip, residuals, save]) part.start();
  show(page.state);
  points.start();
  fresh.start();
} catch (error) {
  shout(error.message);
}
