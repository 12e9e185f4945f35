// How files are sent: few at once, so that acts and pictures have their turn, and again while the service is away.
import { Told } from "./api.js";

/** For all intakes together. A browser opens about six connections to one address (common practice, no source). */
export const AT_ONCE = 2;
const LONGEST_MS = 30_000;

/** @type {(() => void)[]} */
const queue = [];
let busy = 0;

/** Do it when one of the few connections is free; first come, first served. @template T @param {() => Promise<T>} job @returns {Promise<T>} */
export async function inPool(job) {
  if (busy >= AT_ONCE) await new Promise((free) => queue.push(() => free(undefined)));
  else busy += 1;
  try {
    return await job();
  } finally {
    const next = queue.shift();
    if (next) next();
    else busy -= 1;
  }
}

/** How long to wait before the nth try again: twice as long each time, at most half a minute. @param {number} n from 0 on */
export const pauseMs = (n) => Math.min(1000 * 2 ** n, LONGEST_MS);

/** What a person must do before it can go on; "" when nothing. @param {unknown} error */
function wordsOf(error) {
  if (!(error instanceof Told)) return "The desk's service does not answer.";
  if (error.status === 401)
    return "The desk was started anew and does not know this browser: open the address that it printed, here or beside.";
  return error.message;
}

/** The service is away, full of work, or does not know this browser: the same goes again later. @param {unknown} error */
const passes = (error) => !(error instanceof Told) || [401, 429, 503].includes(error.status);

/**
 * Do it until the service has answered; files stay in memory meanwhile.
 * @template T
 * @param {() => Promise<T>} deed
 * @param {{tell: (waits: string) => void, isWanted: () => boolean, file?: Blob, wait?: (ms: number) => Promise<void>}} how
 *   `tell`: why it waits, "" when it goes on; `file`: what the deed reads, a DOMException when it cannot be read any more
 * @returns {Promise<T>}
 */
export async function untilAnswered(deed, { tell, isWanted, file, wait = pause }) {
  for (let n = 0; ; n++) {
    try {
      const answer = await deed();
      if (n > 0) tell("");
      return answer;
    } catch (error) {
      if (!passes(error) || !isWanted()) {
        tell("");
        throw error;
      }
      await file?.slice(0, 1).arrayBuffer(); // a file that is gone fails like a service that is away
      tell(`${wordsOf(error)} It is sent again by itself; leave this page open.`);
      await wait(pauseMs(n));
    }
  }
}

/** @param {number} ms @returns {Promise<void>} */
function pause(ms) {
  return new Promise((done) => setTimeout(done, ms));
}
