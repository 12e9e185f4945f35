// What the desk shows: where one is, the study that is open, and what follows from both. Nothing here draws.
import { act, onWritten, unsaid, waiting } from "./acts.js";
import { Away, get } from "./api.js";
import { sayDrafts } from "./drafts.js";
import { fold } from "./fold.js";
import { batch, computed, effect, signal, untracked } from "./html.js";
import { keptSignal } from "./kept.js";
import { logOf, note, takenBack } from "./log.js";
import { isTooLate, nextInLine, nowShown, withDecided } from "./order.js";
import { awaited, awaitOnly, awaitReadings, fetchMissing, fetchReading, forgetReadings, whole } from "./readings.js";
import { hold, nWith } from "./together.js";
import { toldNow } from "./told_now.js";
import { linesOf, nextRedo, nextUndo, standing } from "./undoing.js";
import { count } from "./words.js";

/** @typedef {{name: "waiting" | "study" | "letters", study: string}} Place */

export const place = signal(/** @type {Place} */ ({ name: "waiting", study: "" }));
export const mentor = keptSignal("mentor", "");
/** "room": as the system says; "light"; "dim" */
export const theme = keptSignal("theme", "room");
export const lettersCount = keptSignal("letters count", true);

/** The study as the service tells it, null until it is there. */
export const page = signal(/** @type {any} */ (null));
export const trouble = signal("");
/** What happened just now, for eyes and for screen readers. */
export const told = signal("");
export const clipKey = signal("");
export const findingKey = signal("");
/** What stands over the desk: "" | "help" | "overrule" | "phrase" | "name" */
export const opened = signal("");
/** "" | "point" | "line" | "angle" | "trace" | "scale" */
export const markTool = signal("");

const ORDER = ["missed", "borderline", "not assessable", "met"];

/** What was said here of the study that is open and is not answered yet. */
const onItsWay = computed(() => waiting.value.filter((each) => each.study === page.value?.id));
/** What people said, with what was said here and is not answered yet. */
export const state = computed(() => fold(page.value?.state, standing(onItsWay.value)));
/** What taking back and putting back mean now, "" for nothing: what is on its way counts as written. */
export const meant = computed(() => {
  const on = onItsWay.value;
  if (on.length === 0) return { undo: page.value?.next_undo ?? "", redo: page.value?.next_redo ?? "" };
  const sent = new Set(on.map((each) => each.id)); // one may be told by the service before it answers
  const lines = [...logOf(page.value.id).filter((each) => !sent.has(each.id)), ...linesOf(on)];
  return { undo: nextUndo(lines), redo: nextRedo(lines) };
});
export const clips = computed(() => /** @type {any[]} */ (page.value?.study?.clips ?? []));
export const clip = computed(() => clips.value.find((each) => each.key === clipKey.value) ?? null);
const facts = computed(
  () => new Map((page.value?.readings ?? []).map((/** @type {any} */ each) => [each.clip.key, each])),
);
/** @param {string} key @returns {any} what the engine says of a clip: all of it, or what path and list need; null while it is not read */
export const readingOf = (key) => whole.value.get(key) ?? facts.value.get(key) ?? null;
export const reading = computed(() => readingOf(clipKey.value));
/** Whether the reading of the clip on the stage is here with values and evidence. */
export const isWhole = computed(() => whole.value.has(clipKey.value) && !isOnItsWay(clipKey.value));
export const steps = computed(() => /** @type {any[]} */ (page.value?.plan?.steps ?? []));
export const hidden = computed(() => {
  const judged = state.value.blind;
  return new Set((page.value?.blind ?? []).filter((/** @type {string} */ key) => !(key in judged)));
});

/** @param {string} key */
const clipName = (key) => `Clip ${clips.value.find((each) => each.key === key)?.number ?? ""}`;

/** @typedef {"mentor" | "engine" | "file" | ""} Who named a view; "engine": proposed, and nobody decided */
/** The view of a clip with what was just said: `said` tells who, `share` how sure a proposal is. @param {string} key @returns {{view: string, said: Who, share?: number}} */
export function viewOf(key) {
  const put = state.value.placements[key];
  if (put?.action === "take clip out") return { view: "", said: "mentor" };
  if (put) return { view: put.view, said: "mentor" };
  const blind = state.value.blind[key];
  if (blind?.view) return { view: blind.view, said: "mentor" };
  if (hidden.value.has(key)) return { view: "", said: "" };
  const now = page.value?.review?.views?.[key] ?? readingOf(key)?.view;
  if (!now?.view) return { view: "", said: "" };
  const isProposed = now.source === "recognised from the pixels";
  return isProposed ? { view: now.view, said: "engine", share: now.probability } : { view: now.view, said: "file" };
}

/** @param {string} key of a clip @returns {any[]} findings, gravest first, each with `decision` (null: nobody decided) */
export function findingsOf(key) {
  if (hidden.value.has(key)) return [];
  const decided = new Map(
    state.value.decisions
      .filter((/** @type {any} */ each) => each.clip === key)
      .map((/** @type {any} */ each) => [each.criterion, each]),
  );
  const found = key ? (readingOf(key)?.findings ?? []) : (page.value?.review?.study_findings ?? []);
  const drafted = (key && readingOf(key)?.view?.view) ?? viewOf(key).view;
  return toldNow(found, page.value?.told_anew?.[key] ?? [], page.value?.criteria, !!key && drafted !== viewOf(key).view)
    .map((/** @type {any} */ each) => ({ evidence: [], ...each, decision: decided.get(each.criterion) ?? null }))
    .sort((/** @type {any} */ a, /** @type {any} */ b) => ORDER.indexOf(a.verdict) - ORDER.indexOf(b.verdict));
}
export const findings = computed(() => findingsOf(clipKey.value));
export const finding = computed(() => findings.value.find((each) => each.criterion === findingKey.value) ?? null);

/** Whether a clip was judged blind just now and its proposals are not here yet. */
export function isOnItsWay(/** @type {string} */ key) {
  const isJudged = (page.value?.blind ?? []).includes(key) && !hidden.value.has(key);
  return isJudged || awaited.value.has(key);
}

/** Whether the engine has not come to a clip yet. A clip that it could not read is not waited for. */
export const isUnread = (/** @type {string} */ key) => !readingOf(key) && page.value?.engine?.state !== "idle";

/** Whether somebody still has to say something about a clip. */
export function needsDecision(/** @type {string} */ key) {
  if (hidden.value.has(key) || isOnItsWay(key) || isUnread(key)) return true;
  const { view, said } = viewOf(key);
  if (said === "engine") return true;
  if (!state.value.placements[key] && !view) return readingOf(key) !== null;
  return findingsOf(key).some((each) => !each.decision);
}

/** The step of the plan in which a clip lies, or null. */
export function stepOf(/** @type {string} */ key) {
  const { view } = viewOf(key);
  return view ? (steps.value.find((step) => step.view === view) ?? null) : null;
}

export function titleOf(/** @type {string} */ view) {
  return page.value?.plan?.views?.[view]?.title ?? view;
}

/** Whether there is a name to say something by; it is asked for when nobody gave one yet. */
function hasName() {
  if (mentor.value.trim()) return true;
  opened.value = "name";
  told.value = "Say first who you are: each decision carries a name.";
  return false;
}

/** Say something about the study. */
export function say(/** @type {string} */ action, /** @type {any} */ payload, clipOf = "") {
  if (!hasName()) return false;
  act(page.value.id, mentor.value.trim(), action, payload, clipOf);
  return true;
}

/** Say several things with one key: one key takes all of it back. @param {{action: string, payload: any}[]} all each about a clip */
export function sayAll(all) {
  if (!hasName()) return false;
  const { id } = page.value;
  batch(() => hold(all.map(({ action, payload }) => act(id, mentor.value.trim(), action, payload, payload.clip))));
  return true;
}

/** Say what stands typed and unsaid: the place is left, the page closed, a paper signed, or a name was given at last. */
export const sayUnsaid = () => page.value && sayDrafts(page.value.id);
unsaid.add(sayUnsaid);
effect(() => {
  if (mentor.value.trim()) untracked(sayUnsaid);
});

onWritten((done, answer, asked) => {
  if (done.study !== page.value?.id || !answer?.state) return;
  const { entry, ...decided } = answer;
  note(done.study, entry);
  batch(() => {
    if (!isTooLate(decided, asked, page.value)) take(decided, asked);
    if (entry.action === "undo")
      told.value = takenBack(entry, nWith(entry.id) > 1 ? () => count(nWith(entry.id), "act") : clipName);
  });
});

/** Take what holds now; clips that were judged blind show their proposals from now on. @param {any} decided @param {number} asked */
function take(decided, asked) {
  const shownNow = shownSince(decided);
  batch(() => {
    nowShown(asked);
    page.value = { ...page.value, ...decided };
    awaitReadings(shownNow);
  });
  for (const key of shownNow) void loadReading(key);
}

/** Clips that were to be judged blind and are not any more. @param {any} decided @returns {string[]} */
const shownSince = (decided) =>
  (page.value?.blind ?? []).filter((/** @type {string} */ key) => !decided.blind.includes(key));

/** Load what the engine says of one clip, anew. @param {string} key */
export async function loadReading(key) {
  if (page.value) await orTrouble(fetchReading(page.value.id, key));
}

/** Load the readings of the clip on the stage and of those that come next. */
export function loadReadings() {
  const study = page.value?.id;
  const all = clips.value.map((each) => each.key);
  const at = all.indexOf(clipKey.value);
  if (!study || at < 0) return;
  const near = [at, at + 1, at - 1, at + 2].map((each) => all[each]).filter((each) => facts.value.has(each));
  void orTrouble(fetchMissing(study, near));
}

/** @param {Promise<void>} deed */
async function orTrouble(deed) {
  try {
    await deed;
  } catch (error) {
    // That the service is away is said already, and what is missing is fetched when it is back.
    if (!(error instanceof Away)) trouble.value = error instanceof Error ? error.message : String(error);
  }
}

let isMissed = false; // something was said that could not be loaded

/** Load again what people said: another page said something. */
export async function loadState() {
  const study = page.value?.id;
  if (!study) return;
  const asked = nextInLine();
  const decided = await get(`/api/studies/${study}/state`).catch(() => null);
  if (page.value?.id !== study) return;
  isMissed = !decided;
  if (decided && !isTooLate(decided, asked, page.value)) take(decided, asked);
}

/** The service is there again: load what could not be loaded. */
export function catchUp() {
  loadReadings();
  if (isMissed) void loadState();
}

const isWanted = (/** @type {string} */ id) => (place.value.study || page.value?.id) === id;

let loaded = 0; // the number of the newest request for a whole study that was answered
/** Load the study, or load it anew. */
export async function loadStudy(/** @type {string} */ id) {
  const asked = nextInLine();
  try {
    const found = await get(`/api/studies/${id}`);
    if (!isWanted(id) || asked < loaded) return;
    loaded = asked;
    const isLate = page.value?.id === id && isTooLate(found, asked, page.value);
    show(found, asked, isLate);
    if (isLate) await loadStudy(id);
  } catch (error) {
    if (isWanted(id) && asked > loaded) trouble.value = error instanceof Error ? error.message : String(error);
  }
}

/** Show a study. @param {any} found @param {number} asked @param {boolean} isLate what people said meanwhile is known better */
function show(found, asked, isLate) {
  batch(() => {
    note(found.id, ...found.entries);
    forgetReadings(clipKey.value);
    if (isLate) page.value = withDecided(found, page.value);
    else {
      const isShown = page.value?.id === found.id && shownSince(found).includes(clipKey.value);
      awaitOnly(clipKey.value, isShown); // of the others the study tells what is proposed
      page.value = found;
      nowShown(asked);
    }
    trouble.value = "";
    const all = found.study?.clips ?? [];
    if (!all.some((/** @type {any} */ each) => each.key === clipKey.value)) choose(all[0]?.key ?? "");
  });
  loadReadings();
}

/** Put a clip on the stage; its gravest open finding is chosen. */
export function choose(/** @type {string} */ key) {
  batch(() => {
    clipKey.value = key;
    const open = findingsOf(key).find((each) => !each.decision && each.verdict !== "met");
    findingKey.value = open?.criterion ?? "";
  });
  loadReadings();
}

export function go(/** @type {Place["name"]} */ name, study = "") {
  const hash = name === "waiting" ? "#/" : `#/${name}/${study}`;
  if (location.hash !== hash) location.hash = hash;
  else readAddress();
}

/** The address says where one is, so that the browser's own back works. */
export function readAddress() {
  const [, name = "", study = ""] = location.hash.split("/");
  sayUnsaid();
  batch(() => {
    opened.value = "";
    told.value = "";
    if ((name === "study" || name === "letters") && study) {
      place.value = { name, study };
      if (page.value?.id !== study) {
        page.value = null;
        clipKey.value = "";
        void loadStudy(study);
      }
    } else {
      place.value = { name: "waiting", study: "" };
    }
  });
}
