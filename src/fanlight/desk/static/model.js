// What the desk shows: where one is, the study that is open, and what follows from both. Nothing here draws.
import { act, actAgainst, onWritten, targets, waiting } from "./acts.js";
import { Away, get } from "./api.js";
import { fold } from "./fold.js";
import { batch, computed, signal } from "./html.js";
import { keptSignal } from "./kept.js";
import { note, takenBack } from "./log.js";
import { fetchMissing, fetchReading, forgetReadings, whole } from "./readings.js";

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

/** What people said, with what was said here and is not answered yet. */
export const state = computed(() =>
  fold(
    page.value?.state,
    waiting.value.filter((each) => each.study === page.value?.id),
  ),
);
export const clips = computed(() => /** @type {any[]} */ (page.value?.study?.clips ?? []));
export const clip = computed(() => clips.value.find((each) => each.key === clipKey.value) ?? null);
const facts = computed(
  () => new Map((page.value?.readings ?? []).map((/** @type {any} */ each) => [each.clip.key, each])),
);
/** @param {string} key @returns {any} what the engine says of a clip: all of it, or what path and list need; null while it is not read */
export const readingOf = (key) => whole.value.get(key) ?? facts.value.get(key) ?? null;
export const reading = computed(() => readingOf(clipKey.value));
/** Whether the reading of the clip on the stage is here with values and evidence. */
export const isWhole = computed(() => whole.value.has(clipKey.value));
export const steps = computed(() => /** @type {any[]} */ (page.value?.plan?.steps ?? []));
export const hidden = computed(() => {
  const judged = state.value.blind;
  return new Set((page.value?.blind ?? []).filter((/** @type {string} */ key) => !(key in judged)));
});

/** @param {string} key */
const clipName = (key) => `Clip ${clips.value.find((each) => each.key === key)?.number ?? ""}`;

/** The view of a clip with what was just said: `said` tells who. @param {string} key */
export function viewOf(key) {
  const put = state.value.placements[key];
  if (put?.action === "take clip out") return { view: "", said: "mentor" };
  if (put) return { view: put.view, said: "mentor" };
  const blind = state.value.blind[key];
  if (blind?.view) return { view: blind.view, said: "mentor" };
  if (hidden.value.has(key)) return { view: "", said: "" };
  const now = page.value?.review?.views?.[key] ?? readingOf(key)?.view;
  if (!now?.view) return { view: "", said: "" };
  return { view: now.view, said: now.source === "recognised from the pixels" ? "engine" : "file" };
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
  return found
    .map((/** @type {any} */ each) => ({ evidence: [], ...each, decision: decided.get(each.criterion) ?? null }))
    .sort((/** @type {any} */ a, /** @type {any} */ b) => ORDER.indexOf(a.verdict) - ORDER.indexOf(b.verdict));
}
export const findings = computed(() => findingsOf(clipKey.value));
export const finding = computed(() => findings.value.find((each) => each.criterion === findingKey.value) ?? null);

/** Clips whose proposals were asked for and are not there yet. */
const awaited = signal(/** @type {string[]} */ ([]));

/** Whether a clip was judged blind just now and its proposals are not here yet. */
export function isOnItsWay(/** @type {string} */ key) {
  const isJudged = (page.value?.blind ?? []).includes(key) && !hidden.value.has(key);
  return isJudged || awaited.value.includes(key);
}

/** Whether somebody still has to say something about a clip. */
export function needsDecision(/** @type {string} */ key) {
  if (hidden.value.has(key) || isOnItsWay(key)) return true;
  const put = state.value.placements[key];
  if (!put && !viewOf(key).view) return readingOf(key) !== null;
  return findingsOf(key).some((each) => !each.decision);
}

/** The step of the plan in which a clip lies, or null. */
export function stepOf(/** @type {string} */ key) {
  const { view } = viewOf(key);
  return view ? (steps.value.find((step) => step.view === view) ?? null) : null;
}

/** Rungs of a step as the service weighed them last. */
export function rungsOf(/** @type {any} */ step) {
  const weighed = page.value?.review?.coverage?.steps?.find((/** @type {any} */ each) => each.view === step.view);
  if (weighed) return weighed.states;
  return (step.asked ?? []).map((/** @type {string} */ rung) => [rung, "asked for and missing"]);
}

export function titleOf(/** @type {string} */ view) {
  return page.value?.plan?.views?.[view]?.title ?? view;
}

/** Say something about the study; a name is asked for when nobody gave one yet. */
export function say(/** @type {string} */ action, /** @type {any} */ payload, clipOf = "") {
  if (!mentor.value.trim()) {
    opened.value = "name";
    told.value = "Say first who you are: each decision carries a name.";
    return false;
  }
  act(page.value.id, mentor.value.trim(), action, payload, clipOf);
  return true;
}

export function takeBack(/** @type {"undo" | "redo"} */ which) {
  if (page.value && mentor.value.trim()) actAgainst(page.value.id, mentor.value.trim(), which);
}

let writes = 0; // an answer that came while something was loaded makes that old

/** @param {string} study @param {"next_undo" | "next_redo"} which */
async function targetIn(study, which) {
  return page.value?.id === study ? page.value[which] : (await get(`/api/studies/${study}/state`))[which];
}
targets.undo = (study) => targetIn(study, "next_undo");
targets.redo = (study) => targetIn(study, "next_redo");

onWritten((done, answer) => {
  if (done.study !== page.value?.id || !answer?.state) return;
  const { entry, ...decided } = answer;
  note(entry);
  writes += 1;
  batch(() => {
    take(decided);
    if (entry.action === "undo") told.value = takenBack(entry, clipName);
  });
});

/** Take what holds now; clips that were judged blind show their proposals from now on. @param {any} decided */
function take(decided) {
  const shownNow = page.value.blind.filter((/** @type {string} */ key) => !decided.blind.includes(key));
  page.value = { ...page.value, ...decided };
  for (const key of shownNow) void loadReading(key);
}

/** Load what the engine says of one clip, anew. @param {string} key */
export async function loadReading(key) {
  await orTrouble(fetchReading(page.value?.id, key));
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

/** Load again what people said: another page said something. */
export async function loadState() {
  const study = page.value?.id;
  if (!study) return;
  const before = writes;
  const decided = await get(`/api/studies/${study}/state`).catch(() => null);
  if (!decided || page.value?.id !== study) return;
  if (before !== writes) await loadState();
  else take(decided);
}

let asked = 0;
/** Load the study, or load it anew. */
export async function loadStudy(/** @type {string} */ id) {
  const mine = ++asked;
  const before = writes;
  try {
    const found = await get(`/api/studies/${id}`);
    if (mine !== asked) return;
    if (before !== writes) {
      await loadStudy(id);
      return;
    }
    batch(() => {
      page.value = found;
      note(...found.entries);
      trouble.value = "";
      const all = found.study?.clips ?? [];
      forgetReadings(clipKey.value);
      if (!all.some((/** @type {any} */ each) => each.key === clipKey.value)) choose(all[0]?.key ?? "");
    });
    loadReadings();
  } catch (error) {
    if (mine === asked) trouble.value = error instanceof Error ? error.message : String(error);
  }
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
  batch(() => {
    opened.value = "";
    told.value = "";
    if ((name === "study" || name === "letters") && study) {
      if (page.value?.id !== study) {
        page.value = null;
        clipKey.value = "";
        void loadStudy(study);
      }
      place.value = { name, study };
    } else {
      place.value = { name: "waiting", study: "" };
    }
  });
}
