// The list of landmarks and calipers that were found: how many, on which frames, and one button each to keep it.
import { placedWords } from "./areas.js";
import {
  areShown,
  elsewhereWords,
  foundOf,
  foundOn,
  foundWords,
  framesOf,
  keepAllFound,
  keepFound,
  pointedAt,
  showAt,
  toggleFound,
} from "./found.js";
import { html } from "./html.js";
import { readOut } from "./read_out.js";
import { areasFor } from "./scales.js";
import { percent } from "./words.js";

/** @param {{clip: any, reading: any, player: import("./player.js").Player}} props */
export function FoundPanel({ clip, reading, player }) {
  const frames = framesOf(clip.key);
  const elsewhere = elsewhereWords(clip.key);
  if (frames.length === 0) return elsewhere ? html`<p class="quiet found-panel">${elsewhere}</p>` : null;
  const here = areShown.value ? foundOn(clip.key, player.frame.value) : [];
  return html`<section class="found-panel" aria-label="What was found on the picture">
    <p class="engine">
      <span>${foundWords(foundOf(clip.key))} proposed, ${frames.length > 1 ? "frames" : "frame"}</span>
      ${frames.map((each) => html`<button key=${each} class="small" aria-label=${`frame ${each + 1}`} onClick=${() => showAt(player, each)}>${each + 1}</button>`)}
      <button class="small" aria-pressed=${areShown.value ? "true" : "false"} title="Shift F2" onClick=${() => toggleFound(player, clip.key)}>show <kbd>⇧ F2</kbd></button>
    </p>
    ${elsewhere ? html`<p class="quiet">${elsewhere}</p>` : null}
    ${here.length ? html`<${FoundList} clip=${clip} reading=${reading} player=${player} here=${here} />` : null}
  </section>`;
}

/** @param {{clip: any, reading: any, player: import("./player.js").Player, here: import("./found.js").Found[]}} props */
function FoundList({ clip, reading, player, here }) {
  const areas = areasFor(clip, reading);
  return html`<p><button class="small" title="Shift F3" onClick=${() => keepAllFound(player, clip.key)}>keep all ${here.length} on this frame <kbd>⇧ F3</kbd></button></p>
    ${here.some((each) => each.landmark) ? html`<p class="quiet">Movements of the probe are advised from landmarks that a hand set or moved.</p>` : null}
    <ul class="found-list">
      ${here.map((each) => html`<${FoundRow} key=${each.name} clip=${clip} found=${each} areas=${areas} />`)}
    </ul>`;
}

/** How long a caliper is, and how far each place may lie off, one standard deviation. @param {import("./found.js").Found} found @param {import("./areas.js").Area[]} areas */
function spreadWords({ points, spread_px }, areas) {
  const off = placedWords(points, spread_px, areas);
  return points.length > 1 ? `${readOut("line", points, areas)}, ${off}` : off;
}

/** @param {{clip: any, found: import("./found.js").Found, areas: import("./areas.js").Area[]}} props */
function FoundRow({ clip, found, areas }) {
  const point = (/** @type {boolean} */ isOver) => () => {
    pointedAt.value = isOver ? found.name : "";
  };
  return html`<li class=${found.name === pointedAt.value ? "named" : ""} onPointerEnter=${point(true)} onPointerLeave=${point(false)}>
    <button class="small" aria-label=${`keep: ${found.words}`} onFocus=${point(true)} onBlur=${point(false)} onClick=${() => keepFound(clip.key, [found])}>keep</button>
    <span class="found-name">${found.words}</span>
    <span class="quiet">${found.probability === null ? "" : `${percent(found.probability)}, `}${spreadWords(found, areas)}</span>
  </li>`;
}
