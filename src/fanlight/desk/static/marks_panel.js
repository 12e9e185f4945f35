// The tools for marks, what they read, and what is followed through the beat.
import { placedWords } from "./areas.js";
import { WordsField } from "./field.js";
import { html } from "./html.js";
import { LANDMARKS } from "./landmarks.js";
import { markTool, opened, page, say, state } from "./model.js";
import { readOut } from "./read_out.js";
import { SCALE_TOOLS, ScaleForm } from "./scale_form.js";
import { areasFor, hasStrip, missingWords } from "./scales.js";
import { sentOn } from "./sent_marks.js";
import { spectrumNotes } from "./spectrum_notes.js";
import { TrackCurves } from "./track_curve.js";
import { toggleTrack, tracks } from "./tracks.js";

const TOOLS = ["point", "line", "angle", "trace"];

/** Point, line, angle, trace, none in turn. @param {string} now */
export function nextTool(now) {
  return TOOLS[TOOLS.indexOf(now) + 1] ?? "";
}

/** @param {{clip: any, reading: any, player: import("./player.js").Player}} props */
export function MarksPanel({ clip, reading, player }) {
  const mine = state.value.marks.filter((/** @type {any} */ each) => each.clip === clip.key);
  const sent = sentOn(clip.key, reading);
  if (!markTool.value && mine.length === 0 && sent.length === 0) return null;
  const areas = areasFor(clip, reading);
  const missing = missingWords(reading, areas);
  return html`<section class="marks-panel" aria-label="Marks">
    ${markTool.value ? html`<${Tools} isStrip=${hasStrip(reading, areas)} />` : null}
    ${missing.length > 0 ? html`<p class="caution">Not calibrated: mark ${missing.join(", ")}.</p>` : null}
    <ul class="mark-list">
      ${mine.map((/** @type {any} */ each) => html`<${MarkRow} key=${each.mark} mark=${each} areas=${areas} player=${player} />`)}
    </ul>
    ${sent.length > 0 ? html`<${SentMarks} sent=${sent} player=${player} />` : null}
    ${opened.value === "scale" ? html`<${ScaleForm} clip=${clip} />` : null}
    <${SpectrumSays} reading=${reading} areas=${areas} />
    <p class="quiet"><a href=${`/api/studies/${page.value?.id}/marks`} download="marks.toml">all marks of this study as a file</a></p>
  </section>`;
}

/** What the practice marked in its files: to be looked at, and measured in the papers. @param {{sent: import("./sent_marks.js").SentMark[], player: import("./player.js").Player}} props */
function SentMarks({ sent, player }) {
  return html`<h3 class="quiet">marked in the files sent</h3>
    <ul class="mark-list sent">
      ${sent.map(
        (each, n) => html`<li key=${n}>
          <button class="small" onClick=${() => {
            player.isPlaying.value = false;
            player.show(each.frame);
          }}>frame ${each.frame + 1}</button>
          <output>${[each.label, each.kind, each.words].filter(Boolean).join(" ")}</output>
        </li>`,
      )}
    </ul>`;
}

/** @param {{reading: any, areas: import("./areas.js").Area[]}} props */
function SpectrumSays({ reading, areas }) {
  const said = spectrumNotes(reading?.layout, areas);
  if (!said) return null;
  return html`<div class="spectrum-says">
    ${said.source ? html`<p class="house">${said.source}</p>` : null}
    ${said.notes.map((note) => html`<p key=${note} class="quiet">${note}</p>`)}
  </div>`;
}

/** @param {{isStrip: boolean}} props */
function Tools({ isStrip }) {
  const one = (/** @type {string} */ tool, /** @type {string} */ words) =>
    html`<button key=${tool} aria-pressed=${markTool.value === tool ? "true" : "false"} onClick=${() => {
      markTool.value = tool;
    }}>${words}</button>`;
  const scales = isStrip ? Object.keys(SCALE_TOOLS) : ["scale"];
  return html`<p class="tools">
    ${TOOLS.map((each) => one(each, each))}
    ${scales.map((each) => one(each, SCALE_TOOLS[each].words))}
    <button onClick=${() => {
      markTool.value = "";
    }}>done</button>
  </p>`;
}

/** @param {{mark: any, areas: import("./areas.js").Area[], player: import("./player.js").Player}} props */
function MarkRow({ mark, areas, player }) {
  const rename = (/** @type {string} */ words) => {
    const known = LANDMARKS.find(([, said]) => said === words);
    return say("draw mark", { ...withoutAction(mark), landmark: known?.[0] ?? "", label: words }, mark.clip);
  };
  const held = tracks.value[mark.mark];
  return html`<li>
    <button class="small" onClick=${() => {
      player.isPlaying.value = false;
      player.show(mark.frame);
    }}>frame ${mark.frame + 1}</button>
    <output>${mark.kind} ${readOut(mark.kind, mark.points, areas)}</output>
    ${mark.proposed_spread_px ? html`<span class="quiet">kept as proposed, ${placedWords(mark.points, mark.proposed_spread_px, areas)}</span>` : null}
    <button class="small" onClick=${() => say("remove mark", { mark: mark.mark, clip: mark.clip }, mark.clip)}>take off</button>
    <${WordsField} study=${page.value.id} name=${`mark ${mark.mark}`} class="mentor" list="landmarks" aria-label=${`What this ${mark.kind} marks`} placeholder="what it marks" value=${mark.label} onSaid=${rename} />
    <datalist id="landmarks">${LANDMARKS.map(([key, words]) => html`<option key=${key} value=${words} />`)}</datalist>
    <button class="small" title="F3" disabled=${player.n < 2} aria-pressed=${held ? "true" : "false"} onClick=${() => toggleTrack(mark)}>follow</button>
    ${held ? html`<${TrackCurves} held=${held} player=${player} />` : null}
  </li>`;
}

/** @param {any} mark */
function withoutAction({ action, ...rest }) {
  return rest;
}
