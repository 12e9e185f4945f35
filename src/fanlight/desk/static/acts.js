// What a person does goes to the service in the order in which it was done, once, however often the line breaks.
// Each act has an identifier made here. It waits in memory and in localStorage until the service has written it down.
import { Away, newId, post, Told } from "./api.js";
import { batch, signal } from "./html.js";
import { inherit, keepActs } from "./tabs.js";

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

/** @type {Set<(act: Act, answer: any) => void>} */
const listeners = new Set();
let isSending = false;
let running = Promise.resolve();
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
  try {
    const body = await bodyOf(first);
    if (body.entry === "") {
      put(waiting.value.filter((each) => each.id !== first.id)); // nothing is left to take back
      return true;
    }
    const answer = await post(first.path, body);
    written(first, answer);
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
    if (error instanceof Told || error instanceof Away) {
      timer = setTimeout(send, AGAIN_MS[Math.min(tries, AGAIN_MS.length - 1)]);
      tries += 1;
      return false;
    }
    throw error;
  }
}

/** The service has written an act down. */
function written(/** @type {Act} */ act, /** @type {any} */ answer) {
  tries = 0;
  batch(() => {
    isAway.value = false;
    isStranger.value = false;
    isFault.value = false;
    whyNot.value = "";
    try {
      for (const heard of listeners) heard(act, answer);
    } finally {
      put(waiting.value.filter((each) => each.id !== act.id));
    }
  });
}

/** Tell that an act was not done, and why. */
function refuse(/** @type {Act} */ act, /** @type {string} */ why) {
  batch(() => {
    isAway.value = false; // it did answer
    isFault.value = false;
    whyNot.value = "";
    refused.value = [...refused.value, { act, why }];
    put(waiting.value.filter((each) => each.id !== act.id));
  });
}

/** Leave the first act out, so that those behind it are written. */
export function leaveOut() {
  const [first] = waiting.value;
  if (!first) return;
  refuse(first, whyNot.value);
  void send();
}

/** Wait until nothing waits, for what must see everything written (a signature). */
export async function settled() {
  do await send();
  while (waiting.value.length > 0 && !isAway.value);
  if (waiting.value.length > 0) throw new Away();
}
