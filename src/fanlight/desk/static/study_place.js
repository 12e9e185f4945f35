// One study: path above, stage and findings below.
import { beside, closeBeside, lockWords, openBeside, toggleBeside } from "./beside.js";
import { takesFiles } from "./drop.js";
import { Findings } from "./findings.js";
import { effect, html, signal, untracked, useEffect, useMemo, useSignal } from "./html.js";
import { Intakes } from "./intake_line.js";
import { clip, clipKey, clips, finding, markTool, needsDecision, opened, page, reading, trouble } from "./model.js";
import { Path } from "./path.js";
import { Player } from "./player.js";
import { sentOn } from "./sent_marks.js";
import { SheetForm } from "./sheet.js";
import { enlarge, Stage } from "./stage.js";
import { StageBar, StageHead } from "./stage_bar.js";
import { keepLines } from "./strip_lines.js";
import { hearStudy } from "./study_events.js";
import { studyKeys } from "./study_keys.js";
import { TimeLine } from "./timeline.js";
import { keepTracks } from "./tracks.js";
import { AS_STORED } from "./view.js";
import { ViewLine } from "./view_line.js";
import { day } from "./words.js";

export function StudyPlace() {
  const player = useMemo(() => new Player(), []);
  const second = useMemo(() => new Player(), []);
  const view = useMemo(() => signal(AS_STORED), []);
  const isOver = useSignal(false);
  const study = page.value?.id;
  useEffect(() => studyKeys(player, second, view), []);
  useEffect(
    () => () => {
      player.close();
      second.close();
      closeBeside();
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
  useEffect(() => effect(keepTracks), []);
  useEffect(() => effect(keepLines), []);
  useEffect(() => {
    view.value = AS_STORED;
    if (beside.value) void openBeside(player, second);
    if (study) player.ahead(likelyNext().map((each) => ({ study, clip: each })));
  }, [clipKey.value, clips.value.length]);
  useEffect(() => (study ? hearStudy(study, page.value.last_event ?? "") : undefined), [study]);
  if (!page.value) return html`<main class="study loading"><p>${trouble.value || "Opening the study."}</p></main>`;
  if (clips.value.length === 0) return html`<main class="study loading"><${NoClips} /></main>`;
  const takes = takesFiles(isOver, () => page.value.id);
  const now = clip.value;
  const words = `Clip ${now?.number}, ${now?.name}`;
  return html`<main class="study" ...${takes}>
    ${isOver.value ? html`<p class="drop-words">Drop: a re-scan for ${page.value.study?.identity.animal_name || page.value.title}, on the thread of this case. A new case is dropped on the list.</p>` : null}
    <${Path} />
    <section class="stage" aria-label="Stage" data-region tabindex="-1">
      ${
        now
          ? html`<${StageHead} player=${player} clip=${now} reading=${reading.value} view=${view} />
            <${ViewLine} clip=${now} />
            <div class=${`pictures ${beside.value ? "two" : ""}`}>
              <figure class="beside"><${Stage} key=${now.key} player=${player} clip=${now} reading=${reading.value} finding=${finding.value} view=${view} marks=${markTool.value !== "" || hasMarks(now.key) || sentOn(now.key, reading.value).length > 0} marksFound words=${words} />
                ${beside.value ? html`<figcaption><strong>this study, ${day(examinedAt())}</strong> · clip ${now.number}</figcaption>` : null}</figure>
              ${
                beside.value
                  ? html`<figure class="beside"><${Stage} key=${beside.value.study + beside.value.clip.key} player=${second} clip=${beside.value.clip} reading=${beside.value.reading} finding=${null} view=${view} marks=${false} words=${`Beside it: ${beside.value.title}, ${day(beside.value.made_at)}`} />
                    <figcaption><strong>${besideWords(beside.value)}</strong> · clip ${beside.value.clip.number} · ${lockWords(beside.value)}</figcaption></figure>`
                  : null
              }
            </div>
            ${[player, second].map((each, n) => (each.trouble.value && (n === 0 || beside.value) ? html`<p key=${n} class="picture-trouble" role="alert">${each.trouble.value}</p>` : null))}
            <${TimeLine} player=${player} reading=${reading.value} />
            <${StageBar} player=${player} view=${view} onZoom=${(/** @type {1 | -1} */ sense) => zoomBy(view, now, sense)} onBeside=${() => void toggleBeside(player, second)} />`
          : null
      }
    </section>
    <${Findings} player=${player} />
    <div class="on-its-way"><${Intakes} of=${page.value.id} /></div>
    ${opened.value === "sheet" ? html`<${SheetForm} />` : null}
  </main>`;
}

const examinedAt = () => page.value.study?.identity.examined_at || page.value.made_at;

/** Which study stands beside, and of which day. @param {{made_at: string}} other */
function besideWords(other) {
  const when = Date.parse(other.made_at) > Date.parse(examinedAt()) ? "later" : "earlier";
  return `${when}, ${day(other.made_at)}`;
}

/** Clips that may come next: the next one that needs somebody, the next and the previous one. */
function likelyNext() {
  const all = clips.value;
  const at = all.findIndex((each) => each.key === clipKey.value);
  const open = [...all.slice(at + 1), ...all.slice(0, Math.max(at, 0))].find((each) => needsDecision(each.key));
  return [...new Set([open, all[at + 1], all[at - 1]])].filter((each) => each !== undefined);
}

/** @param {import("./stage.js").ViewSignal} view @param {any} now @param {1 | -1} sense */
function zoomBy(view, now, sense) {
  const stage = /** @type {HTMLElement} */ (document.querySelector(".picture"));
  enlarge(view, { width: stage.clientWidth, height: stage.clientHeight, ratio: devicePixelRatio || 1 }, now, sense);
}

/** @param {string} key */
function hasMarks(key) {
  return page.value !== null && /** @type {any[]} */ (page.value.state.marks ?? []).some((each) => each.clip === key);
}

function NoClips() {
  const { engine, files } = page.value;
  const isBusy = engine.state !== "idle";
  return html`<p>${isBusy ? "The files are being read; the first clip appears here by itself." : "No clip could be read from these files."}</p>
    <ul>${files.map((/** @type {any} */ each) => html`<li key=${each.name}>${each.name}: ${each.fate}</li>`)}</ul>`;
}
