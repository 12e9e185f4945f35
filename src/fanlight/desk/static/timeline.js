// Time runs below the picture: frames, R waves, end-diastole and end-systole, the beat that is looped.

import { lasts } from "./beats.js";
import { html } from "./html.js";

/** @param {{player: import("./player.js").Player, reading: any}} props */
export function TimeLine({ player, reading }) {
  void player.known.value; // the clip is opened after the first drawing
  const { times, n } = player;
  const whole = lasts(times);
  if (n < 2 || whole <= 0) return html`<p class="timeline still">Still: one frame.</p>`;
  const at = (/** @type {number} */ frame) => {
    const low = Math.min(Math.max(Math.floor(frame), 0), n - 1);
    const next = low + 1 < n ? times[low + 1] : whole;
    return (100 * (times[low] + (frame - low) * (next - times[low]))) / whole;
  };
  const time = reading?.time;
  const range = player.range();
  const now = player.frame.value;
  const seek = (/** @type {PointerEvent} */ event) => {
    const box = /** @type {HTMLElement} */ (event.currentTarget).getBoundingClientRect();
    const ms = Math.min(Math.max((event.clientX - box.left) / box.width, 0), 0.9999) * whole;
    player.isPlaying.value = false;
    player.show(
      Math.max(
        times.findLastIndex((t) => t <= ms),
        0,
      ),
      true,
    );
  };
  const press = (/** @type {KeyboardEvent} */ event) => {
    const next = stepped(event, now, n);
    if (next === null) return;
    event.preventDefault();
    player.isPlaying.value = false;
    player.show(next, true);
  };
  return html`<div
    class="timeline"
    role="slider"
    tabindex="0"
    aria-label="Frame"
    aria-valuemin="1"
    aria-valuemax=${n}
    aria-valuenow=${now + 1}
    aria-valuetext=${`frame ${now + 1} of ${n}`}
    onKeyDown=${press}
    onPointerDown=${(/** @type {PointerEvent} */ event) => {
      seek(event);
      /** @type {HTMLElement} */ (event.currentTarget).setPointerCapture(event.pointerId);
    }}
    onPointerMove=${(/** @type {PointerEvent} */ event) => {
      if (event.buttons === 1) seek(event);
    }}
  >
    <svg viewBox="0 0 100 10" preserveAspectRatio="none" aria-hidden="true">
      ${
        player.isLooping.value
          ? html`<rect class="loop" x=${at(range.first)} y="0" width=${at(range.last + 1) - at(range.first)} height="10" />`
          : null
      }
      <path class="axis" d="M0 6H100" />
      <path class="ticks" d=${times.map((t) => `M${((100 * t) / whole).toFixed(2)} 5V7`).join("")} />
      <path class="r-waves" d=${(time?.r_frames ?? []).map((/** @type {number} */ f) => `M${at(f)} 1V9`).join("")} />
      <path class="head" d=${`M${at(now)} 0V10`} />
    </svg>
    ${(time?.r_frames ?? []).map(
      (/** @type {number} */ f, /** @type {number} */ k) =>
        html`<span key=${`r${k}`} class="word r" style=${{ left: `${at(f)}%` }}>R</span>`,
    )}
    ${beatWords(time, at, now, n / 6)}
  </div>`;
}

/**
 * The frame to which a key moves the slider, null for another key; it ends at both ends. Keys as the slider pattern of
 * the ARIA Authoring Practices Guide has them: arrows by one, Page keys by more (a tenth), Home and End.
 * @param {{key: string, shiftKey: boolean, ctrlKey: boolean, altKey: boolean, metaKey: boolean}} event
 * @param {number} now @param {number} n frames
 */
export function stepped({ key, shiftKey, ctrlKey, altKey, metaKey }, now, n) {
  if (shiftKey || ctrlKey || altKey || metaKey) return null;
  const page = Math.max(2, Math.round(n / 10));
  const by = {
    ArrowRight: 1,
    ArrowUp: 1,
    ArrowLeft: -1,
    ArrowDown: -1,
    PageUp: page,
    PageDown: -page,
    Home: -n,
    End: n,
  };
  const step = by[/** @type {keyof typeof by} */ (key)];
  return step === undefined ? null : Math.min(Math.max(now + step, 0), n - 1);
}

/** Words at the beats; of many, those around the playhead. @param {any} time @param {(frame: number) => number} at @param {number} now @param {number} near */
function beatWords(time, at, now, near) {
  if (!time) return null;
  const all = [
    ...time.end_diastole_frames.map((/** @type {number} */ f) => ["ED", f]),
    ...time.end_systole_frames.map((/** @type {number} */ f) => ["ES", f]),
  ];
  const shown = all.length > 12 ? all.filter(([, frame]) => Math.abs(frame - now) < near) : all;
  return shown.map(
    ([word, frame]) =>
      html`<span key=${word + frame} class=${`word ${word.toLowerCase()}`} style=${{ left: `${at(frame)}%` }}>${word} ${frame + 1}</span>`,
  );
}
