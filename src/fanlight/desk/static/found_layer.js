// What was found, on the picture: a diamond for a landmark, two joined by a line for a caliper, and around each how far
// it may lie off. A press keeps one.
import { areShown, foundOn, keepFound, pointedAt } from "./found.js";
import { html } from "./html.js";
import { beside } from "./mark_shape.js";
import { markTool } from "./model.js";
import { toScreen } from "./view.js";
import { percent } from "./words.js";

const HALF_PX = 5; // of a diamond, on the screen
const REACH_PX = 12; // a press this near means it: 24 pixels across (WCAG 2.5.8)

/** @param {{player: import("./player.js").Player, clip: any, laid: import("./view.js").Laid, size: {width: number, height: number}}} props */
export function FoundLayer({ player, clip, laid, size }) {
  const here = areShown.value ? foundOn(clip.key, player.frame.value) : [];
  if (here.length === 0) return null;
  const named = here.find((each) => each.name === pointedAt.value);
  // With a tool in hand the pointer sets points of a mark; the list keeps what was found.
  return html`<svg class=${`found-layer ${markTool.value ? "" : "pressed"}`} width=${size.width} height=${size.height} aria-hidden="true">
    ${here.map((each) => html`<${FoundShape} key=${each.name} found=${each} laid=${laid} clip=${clip} />`)}
    ${named ? html`<${FoundName} found=${named} laid=${laid} width=${size.width} />` : null}
  </svg>`;
}

/** @param {{found: import("./found.js").Found, laid: import("./view.js").Laid, clip: any}} props */
function FoundShape({ found, laid, clip }) {
  const places = found.points.map((point) => toScreen(laid, point));
  const spread = Math.max(found.spread_px * laid.scale, HALF_PX + 2);
  const shape = `${line(places)}${places.map(diamond).join("")}`;
  const isNamed = found.name === pointedAt.value;
  const point = (/** @type {boolean} */ isOver) => () => {
    pointedAt.value = isOver ? found.name : "";
  };
  return html`<g class=${`found-shape ${isNamed ? "named" : ""}`} onPointerEnter=${point(true)} onPointerLeave=${point(false)}
    onPointerDown=${(/** @type {PointerEvent} */ event) => event.button === 0 && event.stopPropagation()}
    onClick=${() => keepFound(clip.key, [found])}>
    ${places.map(([x, y]) => html`<circle class="reach" cx=${x} cy=${y} r=${REACH_PX} /><circle class="spread" cx=${x} cy=${y} r=${spread} />`)}
    <path class="under" d=${shape} /><path class="over" d=${shape} />
  </g>`;
}

/** @param {number[]} at */
const diamond = ([x, y]) =>
  `M${x} ${y - HALF_PX}l${HALF_PX} ${HALF_PX}l${-HALF_PX} ${HALF_PX}l${-HALF_PX} ${-HALF_PX}Z`;

/** @param {number[][]} places */
const line = (places) => (places.length > 1 ? `M${places.map(([x, y]) => `${x} ${y}`).join("L")}` : "");

/** @param {{found: import("./found.js").Found, laid: import("./view.js").Laid, width: number}} props */
function FoundName({ found, laid, width }) {
  const sure = found.probability === null ? "" : `, ${percent(found.probability)}`;
  const words = `${found.words}, proposed${sure}`;
  const at = beside(laid, found.points, width, words);
  return html`<text x=${at.x} y=${at.y} text-anchor=${at.anchor}>${words}</text>`;
}
