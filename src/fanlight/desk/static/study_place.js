// One study: path above, stage and findings below. The keys of the table mean what stands here.
import { get } from "./api.js";
import { Findings, keepFinding } from "./findings.js";
import { batch, effect, html, signal, untracked, useEffect, useMemo } from "./html.js";
import { judgeAll } from "./blind.js";
import { obey } from "./keys.js";
import { MarksPanel, nextTool } from "./marks_panel.js";
import {
  choose, clip, clipKey, clips, finding, findingKey, findings, go, hidden, markTool,
  needsDecision, opened, page, place, reading, readingOf, say, steps, told, trouble, viewOf,
} from "./model.js";
import { Path, placeIn } from "./path.js";
import { Player } from "./player.js";
import { SheetForm } from "./sheet.js";
import { Stage, enlarge } from "./stage.js";
import { StageBar, StageHead } from "./stage_bar.js";
import { hearStudy } from "./study_events.js";
import { itemsOf, tick } from "./ticks.js";
import { TimeLine } from "./timeline.js";
import { AS_STORED, regreyed } from "./view.js";
import { count } from "./words.js";

/** The same view in an earlier study, beside it. */
export const beside = signal(/** @type {{study: string, title: string, clip: any, reading: any} | null} */ (null));

/** Move along the clips in the order in which they were stored. @param {number} by */
function move(by) {
  const all = clips.value;
  const at = all.findIndex((each) => each.key === clipKey.value);
  const next = all[Math.min(Math.max(at + by, 0), all.length - 1)];
  if (next) choose(next.key);
}

/** Keep what is proposed and go to the next clip that needs somebody. */
function keepAll() {
  const key = clipKey.value;
  if (hidden.value.has(key)) {
    told.value = "Judge this clip first: + diagnostic, - non-diagnostic, or in the form.";
    return;
  }
  if (!readingOf(key)) {
    told.value = "This clip is not read yet: there is nothing to keep.";
    return;
  }
  const open = findings.value.filter((each) => !each.decision).map((each) => each.criterion);
  const { view, said } = viewOf(key);
  if (view && said === "engine" && !say("place clip", { clip: key, view, valve: null }, key)) return;
  if (open.length && !say("accept findings", { clip: key, criteria: open }, key)) return;
  const all = clips.value;
  const at = all.findIndex((each) => each.key === key);
  const order = [...all.slice(at + 1), ...all.slice(0, at)];
  const next = order.find((each) => needsDecision(each.key));
  told.value = `${open.length ? `Kept ${count(open.length, "finding")}.` : "Nothing was open here."} ${next ? `Clip ${next.number} is next.` : "Every clip is decided: F8 opens the letters."}`;
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

/** Show the same view of an earlier study, or nothing more. @param {import("./player.js").Player} player */
async function toggleBeside(player) {
  if (beside.value) {
    beside.value = null;
    return;
  }
  const { view } = viewOf(clipKey.value);
  const earlier = (page.value.thread ?? []).filter((/** @type {any} */ each) => each.id !== page.value.id).reverse();
  if (!view || earlier.length === 0) {
    told.value = view ? "There is no earlier study of this case." : "Say first which view this is.";
    return;
  }
  for (const each of earlier) {
    const other = await get(`/api/studies/${each.id}`).catch(() => null);
    const key = Object.keys(other?.review?.views ?? {}).find((one) => other.review.views[one].view === view);
    const found = other?.study?.clips.find((/** @type {any} */ one) => one.key === key);
    if (!found) continue;
    const read = other.readings.find((/** @type {any} */ one) => one.clip.key === key);
    player.open(each.id, found, read);
    beside.value = { study: each.id, title: other.title || each.title, clip: found, reading: read };
    return;
  }
  told.value = "No earlier study holds this view.";
}

/** @param {Player} player @param {Player} second @param {import("./stage.js").ViewSignal} view */
function keys(player, second, view) {
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
    "take out": () => void (clipKey.value && say("take clip out", { clip: clipKey.value }, clipKey.value)),
    "keep all": keepAll,
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
      told.value = player.loop() ? "One beat, again and again." : was ? "The whole clip." : "No whole beat was found in this clip.";
    },
    "frame back": () => player.step(-1),
    "frame on": () => player.step(1),
    "beat back": () => void (player.beat(-1) || (told.value = "No beats were found in this clip.")),
    "beat on": () => void (player.beat(1) || (told.value = "No beats were found in this clip.")),
    previous: () => move(-1),
    next: () => move(1),
    first: () => move(-Infinity),
    last: () => move(Infinity),
    tick: (key) => {
      const item = clip.value ? itemsOf(viewOf(clipKey.value).view)[Number(key) - 1] : null;
      if (item) tick(clip.value, item);
      else told.value = viewOf(clipKey.value).view ? `The list has no item ${key}.` : "Say first which view this is.";
    },
    phrase: () => void (opened.value = "phrase"),
    larger: () => zoom(1),
    smaller: () => zoom(-1),
    brighter: () => grey(-0.05, 1),
    darker: () => grey(0.05, 1),
    harder: () => grey(0, 0.85),
    softer: () => grey(0, 1 / 0.85),
    "grey as stored": () => void (view.value = AS_STORED),
    marks: () => void (markTool.value = nextTool(markTool.value)),
    beside: () => void toggleBeside(second),
    papers: () => go("letters", place.value.study),
  };
  const undone = Object.entries(deeds).map(([act, deed]) => obey(act, deed));
  return () => {
    for (const undo of undone) undo();
  };
}

export function StudyPlace() {
  const player = useMemo(() => new Player(), []);
  const second = useMemo(() => new Player(), []);
  const view = useMemo(() => signal(AS_STORED), []);
  const study = page.value?.id;
  useEffect(() => keys(player, second, view), []);
  useEffect(
    () => () => {
      player.close();
      second.close();
      beside.value = null;
      markTool.value = "";
    },
    [],
  );
  useEffect(() => {
    return effect(() => {
      const [now, read, open] = [clip.value, reading.value, page.value?.id];
      if (now && open) untracked(() => player.open(open, now, read));
    });
  }, [player]);
  useEffect(() => {
    batch(() => {
      view.value = AS_STORED;
      beside.value = null;
    });
  }, [clipKey.value]);
  useEffect(() => (study ? hearStudy(study, page.value.last_event ?? "") : undefined), [study]);
  if (!page.value) return html`<main class="study loading"><p>${trouble.value || "Opening the study."}</p></main>`;
  if (clips.value.length === 0) return html`<main class="study loading"><${NoClips} /></main>`;
  const now = clip.value;
  const words = `Clip ${now?.number}, ${now?.name}`;
  return html`<main class="study">
    <${Path} />
    <section class="stage" aria-label="Stage" data-region tabindex="-1">
      ${now
        ? html`<${StageHead} player=${player} clip=${now} reading=${reading.value} view=${view} />
            <div class=${`pictures ${beside.value ? "two" : ""}`}>
              <${Stage} key=${now.key} player=${player} clip=${now} reading=${reading.value} finding=${finding.value} view=${view} marks=${markTool.value !== "" || hasMarks(now.key)} words=${words} />
              ${beside.value
                ? html`<figure class="beside"><${Stage} player=${second} clip=${beside.value.clip} reading=${beside.value.reading} finding=${null} view=${view} marks=${false} words=${`Earlier study: ${beside.value.title}`} />
                    <figcaption>earlier: ${beside.value.title}</figcaption></figure>`
                : null}
            </div>
            <${TimeLine} player=${player} reading=${reading.value} />
            <${StageBar} player=${player} view=${view} onZoom=${(/** @type {1 | -1} */ sense) => zoomBy(view, now, sense)} onBeside=${() => toggleBeside(second)} />
            <${MarksPanel} clip=${now} reading=${reading.value} player=${player} />`
        : null}
    </section>
    <${Findings} />
    ${opened.value === "sheet" ? html`<${SheetForm} />` : null}
  </main>`;
}

/** @param {import("./stage.js").ViewSignal} view @param {any} now @param {1 | -1} sense */
function zoomBy(view, now, sense) {
  const stage = /** @type {HTMLElement} */ (document.querySelector(".picture"));
  enlarge(view, { width: stage.clientWidth, height: stage.clientHeight, ratio: devicePixelRatio || 1 }, now, sense);
}

/** @param {string} key */
function hasMarks(key) {
  return page.value !== null && (/** @type {any[]} */ (page.value.state.marks ?? [])).some((each) => each.clip === key);
}

function NoClips() {
  const { engine, files } = page.value;
  const isBusy = engine.state !== "idle";
  return html`<p>${isBusy ? "The files are being read; the first clip appears here by itself." : "No clip could be read from these files."}</p>
    ${engine.error ? html`<p role="alert">${engine.error.what}. ${engine.error.remedy}</p>` : null}
    <ul>${files.map((/** @type {any} */ each) => html`<li key=${each.name}>${each.name}: ${each.fate}</li>`)}</ul>`;
}
