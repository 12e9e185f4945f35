// The tools for marks, what they read, and the way to a scale where a clip has none.
import { focusOnce } from "./focus.js";
import { html, useSignal } from "./html.js";
import { LANDMARKS } from "./landmarks.js";
import { pendingScale } from "./mark_layer.js";
import { readOut, scaleOf } from "./measures.js";
import { markTool, opened, say, state, told } from "./model.js";

const TOOLS = ["point", "line", "angle", "trace"];

/** Point, line, angle, trace, none in turn. @param {string} now */
export function nextTool(now) {
  return TOOLS[TOOLS.indexOf(now) + 1] ?? "";
}

/** @param {{clip: any, reading: any, player: import("./player.js").Player}} props */
export function MarksPanel({ clip, reading, player }) {
  const mine = state.value.marks.filter((/** @type {any} */ each) => each.clip === clip.key);
  if (!markTool.value && mine.length === 0) return null;
  const scale = scaleOf(reading, state.value.scales[clip.key]);
  return html`<section class="marks-panel" aria-label="Marks">
    ${
      markTool.value
        ? html`<p class="tools">
          ${TOOLS.map(
            (each) =>
              html`<button key=${each} aria-pressed=${markTool.value === each ? "true" : "false"} onClick=${() => {
                markTool.value = each;
              }}>${each}</button>`,
          )}
          <button aria-pressed=${markTool.value === "scale" ? "true" : "false"} onClick=${() => {
            markTool.value = "scale";
          }}>depth scale</button>
          <button onClick=${() => {
            markTool.value = "";
          }}>done</button>
        </p>`
        : null
    }
    ${scale ? null : html`<p class="caution">Not calibrated: mark two points of the depth scale, then lengths are in millimetres.</p>`}
    <ul class="mark-list">
      ${mine.map((/** @type {any} */ each) => html`<${MarkRow} key=${each.mark} mark=${each} scale=${scale} player=${player} />`)}
    </ul>
    ${opened.value === "scale" ? html`<${ScaleForm} clip=${clip} />` : null}
  </section>`;
}

/** @param {{mark: any, scale: any, player: import("./player.js").Player}} props */
function MarkRow({ mark, scale, player }) {
  const rename = (/** @type {string} */ words) => {
    const known = LANDMARKS.find(([, said]) => said === words.trim());
    say("draw mark", { ...withoutAction(mark), landmark: known?.[0] ?? "", label: words.trim() }, mark.clip);
  };
  return html`<li>
    <button class="small" onClick=${() => {
      player.isPlaying.value = false;
      player.show(mark.frame);
    }}>frame ${mark.frame + 1}</button>
    <output>${mark.kind} ${readOut(mark.kind, mark.points, scale)}</output>
    <button class="small" onClick=${() => say("remove mark", { mark: mark.mark, clip: mark.clip }, mark.clip)}>take off</button>
    <input class="mentor" list="landmarks" aria-label=${`What this ${mark.kind} marks`} placeholder="what it marks" value=${mark.label}
      onChange=${(/** @type {any} */ event) => rename(event.target.value)} />
    <datalist id="landmarks">${LANDMARKS.map(([key, words]) => html`<option key=${key} value=${words} />`)}</datalist>
  </li>`;
}

/** @param {any} mark */
function withoutAction({ action, ...rest }) {
  return rest;
}

/** @param {{clip: any}} props */
function ScaleForm({ clip }) {
  const cm = useSignal("");
  const send = (/** @type {Event} */ event) => {
    event.preventDefault();
    const mm = 10 * Number(cm.value.replace(",", "."));
    if (!(mm > 0)) {
      told.value = "The distance must be a number of centimetres above 0.";
      return;
    }
    const [start, end] = pendingScale.points;
    const distance = { start, end, distance_mm: mm };
    if (say("set scale", { clip: clip.key, frame: pendingScale.frame, distance }, clip.key)) {
      opened.value = "";
      markTool.value = "line";
    }
  };
  return html`<form class="scale-form" onSubmit=${send}>
    <label class="field">these two points lie apart, in cm
      <input inputmode="decimal" required value=${cm.value} ref=${focusOnce} onInput=${(/** @type {any} */ event) => {
        cm.value = event.target.value;
      }} />
    </label>
    <button type="submit">set the scale</button>
    <button type="button" onClick=${() => {
      opened.value = "";
    }}>leave</button>
  </form>`;
}
