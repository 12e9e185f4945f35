// What a person does goes to the service in the order in which it was done, once, however often the line breaks.
// Each act has an identifier made here. It waits in memory and in localStorage until the service has written it down.
import { Away, newId, post, Told } from "./api.js";
import { batch, signal } from "./html.js";
import { keep, readKept } from "./kept.js";

/**
 * @typedef {{id: string, study: string, path: string, body: any, action: string, clip: string, payload: any}} Act
 */

const AGAIN_MS = [500, 1000, 2000, 5000, 10000];

/** @type {import("./html.js").Signal<Act[]>} */
export const waiting = signal(/** @type {Act[]} */ (readKept("acts", [])));
export const isAway = signal(false);
/** The service was started anew and does not know this browser. */
export const isStranger = signal(false);
/** Acts that the service refused, newest last: what was meant and why it could not be. */
export const refused = signal(/** @type {{act: Act, why: string}[]} */ ([]));

/** @type {Set<(act: Act, answer: any) => void>} */
const listeners = new Set();
let isSending = false;
let tries = 0;
/** @type {ReturnType<typeof setTimeout> | undefined} */
let timer;

/** What was done here: the service tells of it too. @type {Set<string>} */
export const own = new Set();

/** Hear each answer of the service. @param {(act: Act, answer: any) => void} heard */
export function onWritten(heard) {
  listeners.add(heard);
  return () => listeners.delete(heard);
}

/** Ids that are dealt with: another tab's copy of the list must not bring them back. @type {Set<string>} */
const dealtWith = new Set();

function put(/** @type {Act[]} */ acts) {
  for (const each of waiting.value) if (!acts.includes(each)) dealtWith.add(each.id);
  waiting.value = acts;
  const mine = new Set(acts.map((each) => each.id));
  const ofOtherTabs = readKept("acts", []).filter(
    (/** @type {Act} */ each) => !mine.has(each.id) && !dealtWith.has(each.id),
  );
  keep("acts", [...ofOtherTabs, ...acts]);
}

/**
 * @param {string} study @param {string} author @param {string} action @param {any} payload @param {string} [clip]
 * @returns {string} the identifier of the act
 */
export function act(study, author, action, payload, clip = "") {
  const id = newId();
  own.add(id);
  const body = { id, author, clip, action, payload };
  put([...waiting.value, { id, study, path: `/api/studies/${study}/entries`, body, action, clip, payload }]);
  void send();
  return id;
}

/** Which entry undo and redo mean now; said by whoever knows the study. */
export const targets = {
  undo: async (/** @type {string} */ _study) => "",
  redo: async (/** @type {string} */ _study) => "",
};

/** Take back, or put back what was taken back. @param {"undo" | "redo"} which */
export function actAgainst(/** @type {string} */ study, /** @type {string} */ author, which) {
  const id = newId();
  own.add(id);
  const body = { id, author };
  put([
    ...waiting.value,
    { id, study, path: `/api/studies/${study}/undo`, body, action: which, clip: "", payload: {} },
  ]);
  void send();
}

/** The body of an act. An undo names its entry only when all before it is written, and keeps it when sent again. */
async function bodyOf(/** @type {Act} */ first) {
  if ((first.action === "undo" || first.action === "redo") && !first.body.entry) {
    first.body.entry = await targets[first.action](first.study);
    put(waiting.value);
  }
  return first.body;
}

/** Send what waits, oldest first, one at a time. */
export async function send() {
  if (isSending) return;
  isSending = true;
  clearTimeout(timer);
  try {
    while (waiting.value.length > 0) {
      const [first] = waiting.value;
      if (!(await sendOne(first))) break;
    }
  } finally {
    isSending = false;
  }
}

async function sendOne(/** @type {Act} */ first) {
  try {
    const body = await bodyOf(first);
    if (body.entry === "") {
      put(waiting.value.filter((each) => each.id !== first.id)); // nothing is left to take back
      return true;
    }
    const answer = await post(first.path, body);
    batch(() => {
      isAway.value = false;
      isStranger.value = false;
    });
    tries = 0;
    for (const heard of listeners) heard(first, answer);
    put(waiting.value.filter((each) => each.id !== first.id));
    return true;
  } catch (error) {
    if (error instanceof Told && error.status < 500 && error.status !== 401 && error.status !== 429) {
      refused.value = [...refused.value, { act: first, why: error.message }];
      put(waiting.value.filter((each) => each.id !== first.id));
      return true;
    }
    isAway.value = true;
    isStranger.value = error instanceof Told && error.status === 401;
    if (error instanceof Told || error instanceof Away) {
      timer = setTimeout(send, AGAIN_MS[Math.min(tries, AGAIN_MS.length - 1)]);
      tries += 1;
      return false;
    }
    throw error;
  }
}

/** Wait until nothing waits, for what must see everything written (a signature). */
export async function settled() {
  await send();
  if (waiting.value.length > 0) throw new Away();
}

window.addEventListener("online", () => void send());
