/** Asking the program: JSON in, JSON out, errors as sentences. */
import { page, setGone } from "./state.js";

/** Too many requests, too many connections or questions. */
const MANY = [429, 503];
const AGAIN_MS = 300;

export const wait = (ms) => new Promise((done) => setTimeout(done, ms));

async function ask(path, options) {
  let answer;
  try {
    answer = await fetch(`api/${path}`, { cache: "no-store", ...options });
  } catch {
    setGone(true);
    throw new Error("The program does not answer.");
  }
  setGone(false);
  return answer;
}

async function read(answer) {
  const body = await answer.json().catch(() => null);
  if (answer.ok && body) return body;
  throw new Error(body?.error ?? `The program answered with status ${answer.status} and no sentence.`);
}

/** Waits and asks again while the program says that there is too much to do. */
async function patiently(path, options) {
  let answer = await ask(path, options);
  for (let tries = 0; MANY.includes(answer.status) && tries < 10; tries += 1) {
    await wait(AGAIN_MS);
    answer = await ask(path, options);
  }
  return read(answer);
}

/** @returns {Promise<object>} */
export async function get(path) {
  return patiently(path, {});
}

export async function post(path, body) {
  return patiently(path, {
    method: "POST",
    headers: { "Content-Type": "application/json" },
    body: JSON.stringify(body),
  });
}

/** With the geometry shown and where everything stands. */
export function postHere(path, body = {}) {
  return post(path, { geometry: page.geometry, stand: page.state.stand, ...body });
}
