// What the keys of the table do in the study.
import { toggleBeside } from "./beside.js";
import { judgeAll } from "./blind.js";
import { keepFinding } from "./findings.js";
import { keepAllFound, toggleFound } from "./found.js";
import { keepAll } from "./keep_all.js";
import { obey } from "./keys.js";
import { nextTool } from "./marks_panel.js";
import {
  choose,
  clip,
  clipKey,
  clips,
  finding,
  findingKey,
  findings,
  go,
  hidden,
  markTool,
  opened,
  place,
  say,
  steps,
  told,
  viewOf,
} from "./model.js";
import { placeIn } from "./placing.js";
import { confirmAll } from "./proposals.js";
import { enlarge } from "./stage.js";
import { isStrip, toggleLines } from "./strip_lines.js";
import { itemsOf, tick } from "./ticks.js";
import { toggleTracks } from "./tracks.js";
import { AS_STORED, regreyed } from "./view.js";

/** @typedef {import("./player.js").Player} Player */

/** Move along the clips in the order in which they were stored. @param {number} by */
function move(by) {
  const all = clips.value;
  const at = all.findIndex((each) => each.key === clipKey.value);
  const next = all[Math.min(Math.max(at + by, 0), all.length - 1)];
  if (next) choose(next.key);
}

/** @param {1 | -1} sense */
function chooseFinding(sense) {
  const all = findings.value;
  if (all.length === 0) return;
  const at = all.findIndex((each) => each.criterion === findingKey.value);
  findingKey.value = all[(at + sense + all.length + (at < 0 && sense < 0 ? 1 : 0)) % all.length].criterion;
  requestAnimationFrame(() => document.querySelector(".finding.chosen")?.scrollIntoView({ block: "nearest" }));
}

/** @param {Player} player @param {Player} second @param {import("./stage.js").ViewSignal} view */
export function studyKeys(player, second, view) {
  const size = () => {
    const stage = /** @type {HTMLElement | null} */ (document.querySelector(".picture"));
    return { width: stage?.clientWidth ?? 1, height: stage?.clientHeight ?? 1, ratio: devicePixelRatio || 1 };
  };
  const zoom = (/** @type {1 | -1} */ sense) => clip.value && enlarge(view, size(), clip.value, sense);
  const grey = (/** @type {number} */ shift, /** @type {number} */ widen) => {
    view.value = regreyed(view.value, shift, widen);
  };
  /** @type {Record<string, (key: string) => void>} */
  const deeds = {
    place: (key) => {
      const step = steps.value.find((each) => each.letter === key);
      if (step) placeIn(clipKey.value, step);
      else told.value = `The path has no step ${key}.`;
    },
    "take out": () => {
      if (clipKey.value) say("take clip out", { clip: clipKey.value }, clipKey.value);
    },
    "keep all": keepAll,
    "confirm all": confirmAll,
    "next finding": () => chooseFinding(1),
    "previous finding": () => chooseFinding(-1),
    keep: () => (hidden.value.has(clipKey.value) ? judgeAll(clipKey.value, "diagnostic") : keepFinding(finding.value)),
    overrule: () => {
      if (hidden.value.has(clipKey.value)) judgeAll(clipKey.value, "non-diagnostic");
      else if (finding.value) opened.value = "overrule";
      else told.value = "No finding is chosen: . chooses the next one.";
    },
    play: () => player.toggle(),
    "loop beat": () => {
      const was = player.isLooping.value;
      told.value = player.loop()
        ? "One beat, again and again."
        : was
          ? "The whole clip."
          : "No whole beat was found in this clip.";
    },
    "frame back": () => player.step(-1),
    "frame on": () => player.step(1),
    "beat back": () => {
      if (!player.beat(-1)) told.value = "No beats were found in this clip.";
    },
    "beat on": () => {
      if (!player.beat(1)) told.value = "No beats were found in this clip.";
    },
    previous: () => move(-1),
    next: () => move(1),
    first: () => move(-Infinity),
    last: () => move(Infinity),
    tick: (key) => {
      const item = clip.value ? itemsOf(viewOf(clipKey.value).view)[(Number(key) + 9) % 10] : null;
      if (item) tick(clip.value, item);
      else told.value = viewOf(clipKey.value).view ? `The list has no item ${key}.` : "Say first which view this is.";
    },
    phrase: () => {
      opened.value = "phrase";
    },
    larger: () => zoom(1),
    smaller: () => zoom(-1),
    brighter: () => grey(-0.05, 1),
    darker: () => grey(0.05, 1),
    harder: () => grey(0, 0.85),
    softer: () => grey(0, 1 / 0.85),
    "grey as stored": () => {
      view.value = AS_STORED;
    },
    marks: () => {
      markTool.value = nextTool(markTool.value);
    },
    follow: () => toggleTracks(clipKey.value),
    found: () => (isStrip(clipKey.value) ? toggleLines : toggleFound)(player, clipKey.value),
    "keep found": () => keepAllFound(player, clipKey.value),
    beside: () => void toggleBeside(player, second),
    papers: () => go("letters", place.value.study),
  };
  const undone = Object.entries(deeds).map(([act, deed]) => obey(act, deed));
  return () => {
    for (const undo of undone) undo();
  };
}
