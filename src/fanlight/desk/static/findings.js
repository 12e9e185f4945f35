// Findings of the clip on the stage: each value in its band, kept or overruled; what is met folds into one line.

import { Added } from "./added.js";
import { BandDrawing } from "./band.js";
import { BlindJudgement } from "./blind.js";
import { CausesFirst, isCovered } from "./causes_first.js";
import { Caution } from "./caution.js";
import { focusOnce } from "./focus.js";
import { FoundPanel } from "./found_panel.js";
import { html, useRef, useSignal } from "./html.js";
import { gives } from "./ladders.js";
import { MarksPanel } from "./marks_panel.js";
import { ModeField } from "./mode_field.js";
import {
  clip,
  finding,
  findingKey,
  findings,
  hidden,
  isWhole,
  opened,
  page,
  reading,
  say,
  titleOf,
  told,
  viewOf,
} from "./model.js";
import { ClipNumbers } from "./numbers_panel.js";
import { isFlow, valveOf, valveShown, valvesFor } from "./placing.js";
import { StripLinesPanel } from "./strip_lines_panel.js";
import { Structures } from "./structures.js";
import { Ticks } from "./ticks.js";
import { typedIn } from "./typed.js";
import { capital, findingValue, percent, target } from "./words.js";

/** @param {any} item */
export function keepFinding(item) {
  if (!item) {
    told.value = "No finding is chosen: . chooses the next one.";
    return;
  }
  if (say("accept finding", { clip: item.clip, criterion: item.criterion }, item.clip)) {
    told.value = `Kept: ${titleOfCriterion(item)}.`;
  }
}

export function titleOfCriterion(/** @type {any} */ item) {
  return page.value?.criteria?.[item.criterion]?.title ?? item.criterion;
}

/** @param {{item: any}} props */
function House({ item }) {
  const criterion = page.value?.criteria?.[item.criterion];
  const basis = criterion?.source ? `${criterion.basis}, ${criterion.source}` : criterion?.basis;
  return html`<p class="house">target ${target(item.band, item.unit)}${basis ? ` · ${basis}` : ""}</p>`;
}

/** @param {{item: any}} props */
function Decision({ item }) {
  if (!item.decision) return html`<span class="decision none">proposed</span>`;
  const isKept = item.decision.action === "accept finding";
  return html`<span class="decision said">${isKept ? "kept" : `overruled: ${item.decision.verdict}`}</span>`;
}

/** @param {{item: any}} props */
export function Finding({ item }) {
  const isChosen = item.criterion === findingKey.value;
  const choose = () => {
    findingKey.value = item.criterion;
  };
  return html`<li class=${`finding ${item.verdict.replace(" ", "-")} ${isChosen ? "chosen" : ""}`}>
    <button class="finding-head" aria-expanded=${isChosen ? "true" : "false"} onClick=${choose}>
      <span class="finding-title">${titleOfCriterion(item)}</span>
      <span class="finding-verdict">${item.verdict}</span>
    </button>
    <div class="finding-value">
      <${BandDrawing} finding=${item} />
      <span class="value">${findingValue(item)}</span>
      <${Decision} item=${item} />
    </div>
    ${isChosen ? html`<${Detail} item=${item} />` : null}
  </li>`;
}

/** @param {{item: any}} props */
function Detail({ item }) {
  const said = item.decision?.action === "overrule finding" ? item.decision.reason : "";
  return html`<div class="detail">
    ${item.reason ? html`<p class="engine">${capital(item.reason)}</p>` : null}
    <${House} item=${item} />
    ${item.evidence.length ? html`<p class="engine quiet">Shown on the picture.</p>` : null}
    ${said ? html`<p class="mentor">${said}</p>` : null}
    <p class="buttons">
      <button onClick=${() => keepFinding(item)}>keep <kbd>+</kbd></button>
      <button onClick=${() => {
        opened.value = "overrule";
      }}>overrule <kbd>-</kbd></button>
      <button onClick=${() => {
        opened.value = "phrase";
      }}>say more <kbd>/</kbd></button>
    </p>
    ${opened.value === "overrule" ? html`<${Overrule} item=${item} />` : null}
  </div>`;
}

const VERDICTS = ["met", "borderline", "missed", "not assessable"];

/** @param {{item: any}} props */
function Overrule({ item }) {
  const verdict = useSignal(item.verdict === "met" ? "missed" : "met");
  const reason = typedIn(page.value.id, `overrule ${item.clip} ${item.criterion}`, () => "");
  const send = (/** @type {Event} */ event) => {
    event.preventDefault();
    const payload = { clip: item.clip, criterion: item.criterion, verdict: verdict.value, reason: reason.value.trim() };
    if (!payload.reason || !say("overrule finding", payload, item.clip)) return;
    reason.value = "";
    told.value = `Overruled: ${titleOfCriterion(item)}.`;
    opened.value = "";
  };
  return html`<form class="overrule" onSubmit=${send}>
    <fieldset>
      <legend>In your judgement it is</legend>
      ${VERDICTS.map(
        (each) => html`<label key=${each}>
          <input type="radio" name="verdict" value=${each} checked=${verdict.value === each} onChange=${() => {
            verdict.value = each;
          }} /> ${each}
        </label>`,
      )}
    </fieldset>
    <label class="field">because
      <input class="mentor" required value=${reason.value} autofocus ref=${focusOnce}
        onInput=${(/** @type {any} */ event) => {
          reason.value = event.target.value;
        }} />
    </label>
    <p class="buttons"><button type="submit">overrule</button><button type="button" onClick=${() => {
      opened.value = "";
    }}>leave <kbd>Esc</kbd></button></p>
  </form>`;
}

/** Findings that ask for nothing, in one line. @param {{items: any[], words: string}} props */
function Folded({ items, words }) {
  const isOpen = useSignal(false);
  if (items.length === 0) return null;
  const isDecided = items.every((each) => each.decision);
  return html`<details class="folded" open=${isOpen.value} onToggle=${(/** @type {any} */ event) => {
    isOpen.value = event.target.open;
  }}>
    <summary>${items.length} ${words}${isDecided ? ", kept" : ""}</summary>
    ${isOpen.value ? html`<ul class="findings">${items.map((each) => html`<${Finding} key=${each.criterion} item=${each} />`)}</ul>` : null}
  </details>`;
}

/** What the clip is good for, in a line. */
function GoodFor() {
  const all = page.value?.review?.verdicts?.[clip.value?.key ?? ""] ?? reading.value?.verdicts ?? [];
  // Nobody asks of a picture without flow what it is worth for Doppler.
  const now = all.filter(
    (/** @type {[string, string]} */ [purpose]) => purpose !== "doppler" || isFlow(clip.value?.key),
  );
  return html`<dl class="good-for">
    ${now.map((/** @type {[string, string]} */ [purpose, verdict]) => html`<div key=${purpose} class=${verdict.replace(" ", "-")}><dt>${purpose}</dt><dd>${verdict}</dd></div>`)}
  </dl>`;
}

function ClipFindings() {
  const all = findings.value;
  if (!reading.value) return html`<p class="quiet">This clip is not read yet; it can be looked at and placed.</p>`;
  if (!isWhole.value) return html`<p class="quiet" aria-busy="true">Findings are on their way.</p>`;
  const isQuiet = (/** @type {any} */ each) =>
    each.criterion !== finding.value?.criterion && each.decision?.action !== "overrule finding";
  const folded = (/** @type {string} */ verdict) => all.filter((each) => each.verdict === verdict && isQuiet(each));
  const [met, unknown] = [folded("met"), folded("not assessable")];
  const shown = all.filter((each) => !met.includes(each) && !unknown.includes(each));
  return html`<${GoodFor} />
    ${all.length && met.length === all.length ? html`<p class="engine">Nothing to say about this clip: all is met.</p>` : null}
    <ul class="findings">${shown.map((each) => html`<${Finding} key=${each.criterion} item=${each} />`)}</ul>
    <${Folded} items=${met} words=${met.length === 1 ? "more is met" : "more are met"} />
    <${Folded} items=${unknown} words="could not be assessed" />`;
}

/** Of which valve a Doppler clip is. @param {{clip: any, view: string}} props */
function Valves({ clip, view }) {
  const isPressed = useRef(false); // by a pointer, not chosen with the keys of a radio
  const valves = valvesFor(clip.key, view);
  if (valves.length < 2) return null;
  const now = valveShown(clip.key);
  const said = (/** @type {string} */ each, /** @type {any} */ event) => {
    say("place clip", { clip: clip.key, view, valve: each }, clip.key);
    if (isPressed.current) event.target.blur(); // else the arrow keys would go on to say valves
    isPressed.current = false;
  };
  const pressed = (/** @type {boolean} */ now) => () => {
    isPressed.current = now;
  };
  return html`<fieldset class="valves" onPointerDown=${pressed(true)} onKeyDown=${pressed(false)}>
    <legend>flow of which valve</legend>
    ${valves.map(
      (each) => html`<label key=${each}>
        <input type="radio" name="valve" checked=${now === each} onChange=${(/** @type {Event} */ event) => said(each, event)} />${each}
      </label>`,
    )}
  </fieldset>`;
}

/** Which rung the clip gives, as the study was weighed last. @param {{clip: any}} props */
function GivenRung({ clip }) {
  const words = gives(clip.key, Boolean(valveOf(clip.key)));
  return words ? html`<p class="rung-said engine">gives the rung ${words}</p>` : null;
}

/** @param {{player: import("./player.js").Player}} props */
export function Findings({ player }) {
  const now = clip.value;
  if (!now) return html`<aside class="findings-side" data-region tabindex="-1" aria-label="Findings"></aside>`;
  const { view, said, share } = viewOf(now.key);
  const isBlind = hidden.value.has(now.key);
  const by = {
    mentor: "placed by you",
    engine: `proposed, ${percent(share ?? 0)}; Enter confirms it and keeps the findings`,
    file: "named in the file",
    "": null,
  }[said];
  return html`<aside class="findings-side" data-region tabindex="-1" aria-label="Findings">
    <header>
      <h2 class=${said === "mentor" ? "mentor" : "engine"}>${view ? titleOf(view) : "View not known"}</h2>
      <p class="quiet">${by ?? "a letter of the path places it"}</p>
      <${ModeField} clip=${now} />
    </header>
    <${Valves} clip=${now} view=${view} />
    <${GivenRung} clip=${now} />
    <${ClipNumbers} clip=${now} />
    <${StripLinesPanel} clip=${now} reading=${reading.value} player=${player} />
    <${FoundPanel} clip=${now} reading=${reading.value} player=${player} />
    ${isCovered() ? html`<${CausesFirst} />` : isBlind ? html`<${BlindJudgement} key=${now.key} clip=${now} />` : html`<${ClipFindings} />`}
    <${Caution} />
    <${Ticks} clip=${now} view=${view} />
    <${Added} clip=${now} />
    <${Structures} />
    <${MarksPanel} clip=${now} reading=${reading.value} player=${player} />
  </aside>`;
}
