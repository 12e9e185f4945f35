// What a person does goes to the service in the order in which it was done, once, however often the line breaks.
// Each act has an identifier made here. It waits in memory and in localStorage until the service has written it down.
import { Away, newId, post, Told } from "./api.js";
import { batch, signal } from "./html.js";
import { nextInLine } from "./order.js";
import { inherit, keepActs } from "./tabs.js";
import { fallenWith } from "./undoing.js";

/**
 * @typedef {{id: string, study: string, path: string, body: any, action: string, clip: string, payload: any}} Act
 */

const AGAIN_MS = [500, 1000, 2000, 5000, 10000];

/** @type {import("./html.js").Signal<Act[]>} */
export const waiting = signal(/** @type {Act[]} */ ([]));
export const isAway = signal(false);
/** Why the service cannot write now, in its own words; "" when it does not answer at all, or can. */
export const whyNot = signal("");
/** The service met a fault of its own in the act that comes first: it may never be written. */
export const isFault = signal(false);
/** Whether this browser keeps what waits when the page is closed. */
export const isKept = signal(true);
/** The service was started anew and does not know this browser. */
export const isStranger = signal(false);
/** Acts that the service refused, newest last: what was meant and why it could not be. */
export const refused = signal(/** @type {{act: Act, why: string}[]} */ ([]));

/** What says words that stand typed and unsaid. @type {Set<() => void>} */
export const unsaid = new Set();

/** @type {Set<(act: Act, answer: any, asked: number) => void>} */
const listeners = new Set();
let isSending = false;
let running = Promise.resolve();
let tries = 0;
/** @type {ReturnType<typeof setTimeout> | undefined} */
let timer;

/** What was done here: the service tells of it too. @type {Set<string>} */
export const own = new Set();

/** Hear each answer of the service, and the number of its request (order.js). @param {(act: Act, answer: any, asked: number) => void} heard */
export function onWritten(heard) {
  listeners.add(heard);
  return () => listeners.delete(heard);
}

function put(/** @type {Act[]} */ acts) {
  batch(() => {
    waiting.value = acts;
    isKept.value = keepActs(acts);
  });
}

/** Begin: what pages that were closed had not sent is sent first. */
export function begin() {
  inherit((/** @type {Act[]} */ acts) => {
    for (const each of acts) own.add(each.id);
    put([...waiting.value, ...acts]);
    void send();
  });
  window.addEventListener("online", () => void send());
  void send();
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

/**
 * Take back, or put back what was taken back.
 * @param {string} study @param {string} author @param {"undo" | "redo"} which
 * @param {string} entry what is meant, said when it is asked for: an entry of the log, or an act that is on its way
 * @returns {string} the identifier of this act
 */
export function actAgainst(study, author, which, entry) {
  const id = newId();
  own.add(id);
  const body = { id, author, entry };
  put([
    ...waiting.value,
    { id, study, path: `/api/studies/${study}/undo`, body, action: which, clip: "", payload: {} },
  ]);
  void send();
  return id;
}

/** Send what waits, oldest first, one at a time. Ends when nothing waits, or the service does not answer. */
export function send() {
  if (!isSending) running = sendAll();
  return running;
}

async function sendAll() {
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
  const asked = nextInLine();
  try {
    const answer = await post(first.path, first.body);
    written(first, answer, asked);
    return true;
  } catch (error) {
    if (error instanceof Told && error.status < 500 && error.status !== 401 && error.status !== 429) {
      refuse(first, error.message);
      return true;
    }
    batch(() => {
      isAway.value = true;
      isStranger.value = error instanceof Told && error.status === 401;
      isFault.value = error instanceof Told && error.status === 500;
      whyNot.value = error instanceof Told && error.status !== 401 ? error.message : "";
    });
    timer = setTimeout(send, AGAIN_MS[Math.min(tries, AGAIN_MS.length - 1)]);
    tries += 1;
    if (error instanceof Told || error instanceof Away) return false;
    throw error;
  }
}

/** The service has written an act down. */
function written(/** @type {Act} */ act, /** @type {any} */ answer, /** @type {number} */ asked) {
  tries = 0;
  batch(() => {
    isAway.value = false;
    isStranger.value = false;
    isFault.value = false;
    whyNot.value = "";
    for (const heard of listeners) heardBy(heard, act, answer, asked);
    put(waiting.value.filter((each) => each.id !== act.id));
  });
}

/** What goes wrong in the page does not make an act unwritten: it is told beside. @param {(act: Act, answer: any, asked: number) => void} heard @param {Act} act @param {any} answer @param {number} asked */
function heardBy(heard, act, answer, asked) {
  try {
    heard(act, answer, asked);
  } catch (error) {
    reportError(error);
  }
}

/** Tell that an act was not done, and why; what was to take it back falls with it. */
function refuse(/** @type {Act} */ act, /** @type {string} */ why) {
  const fallen = fallenWith(waiting.value, act.id);
  const left = waiting.value.filter((each) => each.id !== act.id && !fallen.includes(each));
  const because = `what it was for (${act.action}) was not done`;
  batch(() => {
    isAway.value = false; // it did answer
    isFault.value = false;
    whyNot.value = "";
    refused.value = [...refused.value, { act, why }, ...fallen.map((each) => ({ act: each, why: because }))];
    put(left);
  });
}

/** Leave the first act out, so that those behind it are written. */
export async function leaveOut() {
  const [first] = waiting.value;
  if (isSending) await running; // it may be written just now
  if (!first || waiting.value[0]?.id !== first.id || !isFault.value) return;
  refuse(first, whyNot.value);
  void send();
}

/** Wait until nothing waits, for what must see everything written (a signature). */
export async function settled() {
  for (const say of unsaid) say();
  do await send();
  while (waiting.value.length > 0 && !isAway.value);
  if (waiting.value.length > 0) throw new Away();
}
