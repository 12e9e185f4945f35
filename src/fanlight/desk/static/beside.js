// The same view in an earlier study of the same animal, beside the clip on the stage: held to its beat where both have beats.
import { get } from "./api.js";
import { batch, effect, signal, untracked } from "./html.js";
import { clip, clipKey, isWhole, page, reading, told, viewOf } from "./model.js";
import { beatMarks, nearest, samePhase } from "./phase.js";
import { day } from "./words.js";

/** @typedef {import("./player.js").Player} Player */

/** @type {import("./html.js").Signal<{study: string, title: string, made_at: string, clip: any, reading: any, isLocked: boolean} | null>} */
export const beside = signal(null);
let letGo = () => {};

/** @param {Player} player @param {Player} second */
export async function toggleBeside(player, second) {
  if (beside.value) closeBeside();
  else await openBeside(player, second);
}

export function closeBeside() {
  letGo();
  letGo = () => {};
  beside.value = null;
}

/** Find the clip that fits beside the one on the stage, and hold the two together. @param {Player} player @param {Player} second */
export async function openBeside(player, second) {
  const [study, key, now] = [page.value.id, clipKey.value, reading.value];
  const { view } = viewOf(key);
  closeBeside();
  if (!view) {
    told.value = "Say first which view this is.";
    return;
  }
  const mode = now?.mode?.mode ?? "";
  const answer = await get(
    `/api/studies/${study}/earlier?view=${encodeURIComponent(view)}&mode=${encodeURIComponent(mode)}`,
  ).catch((error) => ({ found: null, why: error instanceof Error ? error.message : String(error) }));
  await wholeReading(); // its beats are needed
  if (page.value?.id !== study || clipKey.value !== key) return;
  const { found } = answer;
  if (!found) {
    told.value = answer.why ?? "No other study of this animal holds this view.";
    return;
  }
  second.open(found.study, found.clip, found.reading, { plays: player.isPlaying.value });
  const isLocked = hold(player, second, found);
  beside.value = { ...found, isLocked };
  told.value = `Beside it: ${found.title}, ${day(found.made_at)}; ${lockWords({ ...found, isLocked })}.`;
}

/** Wait until the reading on the stage is here, or for a while. */
function wholeReading() {
  return new Promise((done) => {
    const stop = effect(() => {
      if (isWhole.value) setTimeout(finish);
    });
    const timer = setTimeout(finish, 3000);
    function finish() {
      clearTimeout(timer);
      stop();
      done(undefined);
    }
  });
}

/** @param {{isLocked: boolean, clip: any}} other */
export function lockWords(other) {
  if (other.isLocked) return "same phase of the beat";
  if (other.clip.n_frames < 2 || (clip.value?.n_frames ?? 0) < 2) return "a still";
  return "beats not known in both: each at its own speed";
}

/** @param {Player} player @param {Player} second @param {any} found @returns {boolean} whether both have beats to hold on to */
function hold(player, second, found) {
  const other = { times: second.times, marks: beatMarks(found.reading, second.times) };
  const marks = () => beatMarks(reading.value, player.times);
  if (marks().length < 2 || other.marks.length < 2) {
    player.partner = second;
    letGo = () => {
      player.partner = null;
    };
    return false;
  }
  const match = (/** @type {number} */ frame) => samePhase({ times: player.times, marks: marks() }, other, frame);
  batch(() => {
    second.isPlaying.value = false;
    second.isLooping.value = false;
  });
  second.span = { first: nearest(other.times, other.marks[0]), last: nearest(other.times, other.marks.at(-1) ?? 0) };
  player.mayShow = (frame) => second.trouble.value !== "" || second.has(match(frame));
  const stop = effect(() => {
    const frame = player.frame.value;
    untracked(() => second.show(match(frame)));
  });
  letGo = () => {
    stop();
    player.mayShow = () => true;
    second.span = null;
  };
  return true;
}
