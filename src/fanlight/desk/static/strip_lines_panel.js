// The list of what was read off a strip: how to read its lines, each beat's number, and what does not count and why.
import { html } from "./html.js";
import { hidden, markTool, state } from "./model.js";
import { valueWords } from "./numbers.js";
import { readOut } from "./read_out.js";
import { areasFor } from "./scales.js";
import { focusHandle } from "./strip_line_layer.js";
import {
  areDrawn,
  chosenPlace,
  isStrip,
  linesOf,
  nameOfPlace,
  ownMarks,
  showLines,
  toggleLines,
  troubleOf,
} from "./strip_lines.js";
import { capital } from "./words.js";

/**
 * @typedef {import("./strip_lines.js").Place} Place
 * @typedef {import("./strip_lines.js").StripLines} StripLines
 * @param {{clip: any, reading: any, player: import("./player.js").Player}} props
 */
export function StripLinesPanel({ clip, reading, player }) {
  if (!isStrip(clip.key) || hidden.value.has(clip.key)) return null;
  const [lines, trouble] = [linesOf(clip.key), troubleOf(clip.key)];
  if (trouble) return html`<p class="strip-lines-panel caution">${trouble}</p>`;
  if (!lines) return html`<p class="strip-lines-panel quiet" role="status">The lines of this strip are being read.</p>`;
  if (lines.courses.length + lines.places.length === 0) return null; // why stands with the numbers
  return html`<section class="strip-lines-panel" aria-label="Lines read off this strip">
    <p class="engine">
      <span>Lines read off this strip</span>
      <button class="small" aria-pressed=${areDrawn.value ? "true" : "false"} title="Shift F2" onClick=${() => toggleLines(player, clip.key)}>show <kbd>⇧ F2</kbd></button>
    </p>
    ${areDrawn.value ? html`<${Legend} /><${Places} clip=${clip} reading=${reading} player=${player} lines=${lines} />` : null}
  </section>`;
}

function Legend() {
  const one = (/** @type {string} */ look, /** @type {string} */ words) =>
    html`<li><svg class="strip-key" width="26" height="12" aria-hidden="true"><path class=${look} d="M1 6h24" /></svg>${words}</li>`;
  return html`<ul class="strip-legend quiet">
    ${one("", "seen")}${one("unseen", "led across")}${one("left-out", "does not count")}${one("own", "yours")}
  </ul>`;
}

/** Places by what they measure, in their order. @param {Place[]} places */
function byLabel(places) {
  /** @type {Map<string, Place[]>} */
  const found = new Map();
  for (const each of places) found.set(each.label, [...(found.get(each.label) ?? []), each]);
  return [...found];
}

/** @param {{clip: any, reading: any, player: import("./player.js").Player, lines: StripLines}} props */
function Places({ clip, reading, player, lines }) {
  const own = ownMarks(clip.key, lines, state.value.marks);
  const areas = areasFor(clip, reading);
  const rows = byLabel(lines.places);
  return html`<p class="quiet">Drag a point of one, or press its beat and move it with the arrow keys: from then on it is yours, and your beats alone give the number.</p>
    <ul class="strip-places">
      ${rows.map(
        ([label, places]) => html`<li key=${label}>
          <span class="place-name">${label}</span>
          ${places.map((place) => html`<${Beat} key=${place.beat} place=${place} mark=${own.get(nameOfPlace(place))} areas=${areas} onChoose=${() => chooseOne(player, lines, place, own)} />`)}
        </li>`,
      )}
    </ul>
    ${lines.notes.map((each) => html`<p key=${each} class="quiet">${capital(each)}.</p>`)}`;
}

/** @param {{place: Place, mark: any, areas: import("./areas.js").Area[], onChoose: () => void}} props */
function Beat({ place, mark, areas, onChoose }) {
  const value = place.value === null ? "–" : valueWords({ value: place.value, unit: place.unit, uncertainty: null });
  const isChosen = chosenPlace.value === nameOfPlace(place);
  const yours = mark ? readOut(mark.kind, mark.points, areas).split(" · ")[0] : "";
  const why = place.reason ? `, does not count: ${place.reason}` : "";
  const said = yours ? `yours ${yours}; read by the engine: ${value}` : value;
  const name = `${place.label}, beat ${place.beat}: ${said}${why}`;
  return html`<button class=${`small ${place.reason ? "left-out" : ""}`} aria-pressed=${isChosen ? "true" : "false"} aria-label=${name} title=${place.reason} onClick=${onChoose}>
    <span class="beat-number">${place.beat}</span> ${mark ? html`<span class="mentor">yours ${yours}</span>` : value}
  </button>`;
}

/** Put the keyboard on a place, or on the mark that stands in its stead. @param {import("./player.js").Player} player @param {StripLines} lines @param {Place} place @param {Map<string, any>} own */
function chooseOne(player, lines, place, own) {
  const name = nameOfPlace(place);
  markTool.value = "";
  showLines(player, lines);
  chosenPlace.value = name;
  const mark = own.get(name);
  requestAnimationFrame(() => void focusHandle(`${mark ? mark.mark : name} 0`));
}
