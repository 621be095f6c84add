/**
 * What the page knows at the moment, and who wants to hear when it changes.
 *
 * @typedef {{track: ?number, table: ?number, joints: number[]}} Stand
 */
export const page = {
  /** The answer of `api/cell`. */
  cell: null,
  /** The STATE shown. */
  state: null,
  /** @type {"registered" | "drawn"} */
  geometry: "registered",
  /** The handle that was moved last, as `plan/tip`. */
  moved: "",
  /** Requests that move something: the one under way, and those wanted after it. */
  underway: null,
  wanted: [],
  /** The program does not answer any more, or was stopped. */
  gone: false,
};

const hearers = { state: [], geometry: [], gone: [] };

/**
 * @param {"state" | "geometry" | "gone"} what
 * @param {() => void} hearer
 */
export function on(what, hearer) {
  hearers[what].push(hearer);
}

function tell(what) {
  for (const hearer of hearers[what]) hearer();
}

/** Takes a STATE; one of the other geometry changes the drawings first. */
export function show(state, moved = "") {
  const other = state.geometry !== page.geometry;
  page.state = state;
  page.geometry = state.geometry;
  page.moved = moved;
  if (other) tell("geometry");
  tell("state");
}

export function setGone(gone) {
  if (page.gone === gone) return;
  page.gone = gone;
  tell("gone");
}
