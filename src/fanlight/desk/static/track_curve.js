// A followed mark over the beat: its value with the band of its error, largest and smallest, and what was left over.
import { html } from "./html.js";
import { curveWords } from "./tracks.js";

const [WIDE, HIGH] = [200, 40];

/** @param {{held: import("./tracks.js").Held, player: import("./player.js").Player}} props */
export function TrackCurves({ held, player }) {
  if (held.trouble) return html`<p class="caution">${held.trouble}</p>`;
  if (!held.track) return html`<p class="quiet">following …</p>`;
  const { track } = held;
  const drift =
    track.drift === null
      ? "no whole beat shows how far it drifts: errors are taken larger"
      : `one beat on it comes back to ${track.drift.toFixed(1)} ${track.unit}`;
  return html`<div class="tracked-values">
    ${track.curves.map((each) => html`<${OneCurve} key=${each.name} curve=${each} track=${track} player=${player} />`)}
    <p class="quiet">${[drift, ...track.stopped].join("; ")}.</p>
  </div>`;
}

/** @param {{curve: import("./tracks.js").Curve, track: import("./tracks.js").Track, player: import("./player.js").Player}} props */
function OneCurve({ curve, track, player }) {
  const { values, errors } = curve;
  const n = values.length;
  const low = Math.min(...values.map((v, k) => v - errors[k]));
  const high = Math.max(...values.map((v, k) => v + errors[k]));
  const x = (/** @type {number} */ k) => (n < 2 ? WIDE / 2 : (WIDE * k) / (n - 1));
  const y = (/** @type {number} */ v) => HIGH - 2 - ((HIGH - 4) * (v - low)) / (high - low || 1);
  const line = (/** @type {number[]} */ row) => row.map((v, k) => `${x(k).toFixed(1)} ${y(v).toFixed(1)}`);
  const band = [
    ...line(values.map((v, k) => v + errors[k])),
    ...line(values.map((v, k) => v - errors[k])).reverse(),
  ].join("L");
  const now = player.frame.value - track.first;
  const at = (/** @type {number} */ frame) => `${curveWords(curve, frame - track.first)}, frame ${frame + 1}`;
  const words = `${curve.name}: largest ${at(curve.largest_frame)}; smallest ${at(curve.smallest_frame)}`;
  const go = (/** @type {number} */ frame) => () => {
    player.isPlaying.value = false;
    player.show(frame, true);
  };
  return html`<figure class="curve">
    <svg viewBox=${`0 0 ${WIDE} ${HIGH}`} preserveAspectRatio="none" role="img" aria-label=${words}>
      <path class="band" d=${`M${band}Z`} /><path class="line" d=${`M${line(values).join("L")}`} />
      ${now >= 0 && now < n ? html`<path class="head" d=${`M${x(now)} 0V${HIGH}`} />` : null}
    </svg>
    <figcaption>
      ${curve.name}
      <button class="small" onClick=${go(curve.largest_frame)}>largest ${at(curve.largest_frame)}</button>
      <button class="small" onClick=${go(curve.smallest_frame)}>smallest ${at(curve.smallest_frame)}</button>
    </figcaption>
  </figure>`;
}
