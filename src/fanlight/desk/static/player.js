// One playing clip: which frame stands, which are wanted, and how fast that went. Draws nothing itself.
import { beatAround, beatStarts, beatStep, frameAt, frameTimes, lasts } from "./beats.js";
import { batch, signal, untracked } from "./html.js";
import { Ring, upcoming } from "./ring.js";

const AHEAD = 48;

/** @param {string} study @param {string} clip */
const addressOf = (study, clip) => new URL(`/api/studies/${study}/clips/${clip}/frames`, location.href).href;

export class Player {
  constructor() {
    this.frame = signal(0);
    this.isPlaying = signal(false);
    this.isLooping = signal(false);
    /** Counts what must be drawn anew. */
    this.drawn = signal(0);
    /** Counts how often frames, times and beats came anew: who shows them reads it. */
    this.known = signal(0);
    this.trouble = signal("");
    this.form = signal("");
    /** @type {Ring | null} */
    this.ring = null;
    /** Frames that cannot be had, and why. @type {Map<number, string>} */
    this.broken = new Map();
    this.address = "";
    /** Whether pictures did not come and are asked for again. */
    this.waits = false;
    this.n = 0;
    /** @type {number[]} */
    this.times = [];
    this.isTrue = true;
    /** @type {number[]} */
    this.starts = [];
    this.origin = 0;
    this.lastTick = 0;
    /** @type {number[]} */
    this.wanted = [];
    /** @type {{since: number, name: string} | null} */
    this.asked = null;
    this.request = 0;
    /** What plays beside it at its own speed and is stepped with it. @type {Player | null} */
    this.partner = null;
    /** Whether what hangs on a frame is ready for it too. */
    this.mayShow = (/** @type {number} */ _frame) => true;
    /** The part that is played; null: all of it. @type {{first: number, last: number} | null} */
    this.span = null;
    this.worker = new Worker(new URL("./decode.js", import.meta.url), { type: "module" });
    this.worker.onmessage = (event) => this.came(event.data);
  }

  /** @param {string} study @param {any} clip @param {any} reading @param {{plays?: boolean}} [how] */
  open(study, clip, reading, { plays = true } = {}) {
    const address = addressOf(study, clip.key);
    if (address !== this.address) {
      this.ring?.close();
      this.ring = new Ring(clip.rows, clip.cols);
      this.broken.clear();
      this.waits = false;
      this.address = address;
      this.span = null;
      this.n = clip.n_frames;
      this.asked = { since: performance.now(), name: "first frame" };
      batch(() => {
        this.frame.value = 0;
        this.trouble.value = "";
        this.isLooping.value = false;
        this.isPlaying.value = plays && clip.n_frames > 1;
      });
      this.origin = performance.now();
    }
    const { times, isTrue } = frameTimes(clip, reading);
    this.times = times;
    this.isTrue = isTrue;
    this.starts = beatStarts(reading, this.n);
    untracked(() => {
      this.known.value += 1;
    });
    this.want();
    this.run();
  }

  /** First and last frame of what is played. */
  range() {
    const beat = this.isLooping.value ? beatAround(this.starts, this.frame.value) : null;
    return beat ?? this.span ?? { first: 0, last: this.n - 1 };
  }

  /** Whether the picture of a frame is there. @param {number} frame */
  has(frame) {
    return Boolean(this.ring?.get(frame)) || this.broken.has(frame);
  }

  /** Why the frame that stands cannot be shown; "" when it can. */
  brokenWord() {
    void this.drawn.value;
    return this.broken.get(this.frame.value) ?? "";
  }

  /** Which frames cannot be had and why, in a sentence; "" when all can. */
  brokenSentence() {
    if (this.broken.size === 0) return "";
    const more = this.broken.size - 1;
    const others = more ? ` ${more} more cannot be shown either.` : " All others are shown.";
    return `${[...this.broken.values()][0].replace(/^f/, "F")}.${others}`;
  }

  /** A frame cannot be had: said for as long as the clip is open, since it passes quickly. @param {number} index @param {string} why */
  breakAt(index, why) {
    this.broken.set(index, why);
    batch(() => {
      this.trouble.value = this.brokenSentence();
      if (index === this.frame.value) this.drawn.value += 1;
    });
  }

  /** Have the first frames of clips fetched that may come next; the likeliest first. @param {{study: string, clip: any}[]} clips */
  ahead(clips) {
    const next = clips.map(({ study, clip }) => ({ address: addressOf(study, clip.key), n: clip.n_frames }));
    this.worker.postMessage({ ahead: next });
  }

  want() {
    if (!this.ring || this.n === 0) return;
    const { first, last } = this.range();
    const next = upcoming(this.frame.value, first, last, Math.min(this.ring.size - 4, AHEAD));
    const behind = [1, 2, 3, 4].map((k) => this.frame.value - k).filter((each) => each >= 0 && !next.includes(each));
    this.wanted = [...next, ...behind];
    const wanted = this.wanted.filter((each) => !this.has(each));
    if (wanted.length > 0) this.worker.postMessage({ address: this.address, n: this.n, wanted });
  }

  /** @param {{address: string, index: number, bitmap?: ImageBitmap, form?: string, trouble?: string, broken?: string, ended?: number, waits?: boolean}} message `ended`: from this frame on none can be had; `waits`: they are asked for again */
  came({ address, index, bitmap, form, trouble, broken, ended, waits }) {
    if (address !== this.address || !this.ring) {
      bitmap?.close();
      return;
    }
    if (this.waits && !waits) {
      this.waits = false;
      this.trouble.value = this.brokenSentence();
    }
    if (bitmap) {
      this.ring.put(index, bitmap, this.wanted);
      this.form.value = form ?? "";
      if (index === this.frame.value) this.drawn.value += 1;
    } else if (broken) {
      this.breakAt(index, broken);
    } else if (waits) {
      this.waits = true; // time waits too: what plays stops at the last picture that is there
      this.trouble.value = `The next pictures have not come yet: ${trouble}. They are asked for again by themselves.`;
    } else if (trouble) {
      if (ended) this.endAt(ended);
      const before = ended ? ` The ${ended === 1 ? "frame" : `${ended} frames`} before it can be looked at.` : "";
      batch(() => {
        this.trouble.value = `${trouble}.${before}`;
        if (!ended) this.isPlaying.value = false;
      });
    }
  }

  /** Play only what comes before a frame that cannot be had. @param {number} index */
  endAt(index) {
    this.span = { first: 0, last: Math.max(index - 1, 0) };
    if (this.frame.value > this.span.last) this.show(this.span.last);
    else this.want();
  }

  /** The picture to draw now, or null while it is on its way. */
  picture() {
    return this.ring?.get(this.frame.value) ?? null;
  }

  /** Call when the picture was drawn: keeps how long it took. */
  wasDrawn() {
    if (!this.asked) return;
    performance.measure(`fanlight: ${this.asked.name}`, { start: this.asked.since, end: performance.now() });
    this.asked = null;
  }

  /** @param {number} index @param {boolean} [isStep] */
  show(index, isStep = false) {
    if (this.n === 0) return;
    const { first, last } = this.range();
    const length = last - first + 1;
    const next = first + ((((index - first) % length) + length) % length);
    if (isStep) this.asked = { since: performance.now(), name: "step" };
    this.frame.value = next;
    this.origin = performance.now() - (this.times[next] - this.times[first]);
    this.want();
  }

  /** @param {1 | -1} sense */
  step(sense) {
    this.isPlaying.value = false;
    this.partner?.step(sense);
    this.show(this.frame.value + sense, true);
  }

  /** @param {1 | -1} sense @returns {boolean} whether beats are known */
  beat(sense) {
    this.partner?.beat(sense);
    const next = beatStep(this.starts, this.frame.value, sense);
    if (next === null) return false;
    const wasLooping = this.isLooping.value;
    this.isLooping.value = false;
    this.show(next, true);
    this.isLooping.value = wasLooping;
    return true;
  }

  toggle() {
    this.isPlaying.value = !this.isPlaying.value && this.n > 1;
    if (this.partner && this.partner.isPlaying.value !== this.isPlaying.value) this.partner.toggle();
    this.origin = performance.now() - (this.times[this.frame.value] - this.times[this.range().first]);
    this.run();
  }

  /** @returns {boolean} whether a whole beat could be found to loop over */
  loop() {
    this.isLooping.value = !this.isLooping.value && beatAround(this.starts, this.frame.value) !== null;
    if (this.isLooping.value && !this.isPlaying.value) this.toggle();
    else this.show(this.frame.value);
    return this.isLooping.value;
  }

  run() {
    cancelAnimationFrame(this.request);
    this.lastTick = 0; // what passed while it stood is not late
    if (!this.isPlaying.value) return;
    const tick = (/** @type {number} */ now) => {
      if (!this.isPlaying.value) return;
      this.request = requestAnimationFrame(tick);
      this.advance(now);
    };
    this.request = requestAnimationFrame(tick);
  }

  /** @param {number} now */
  advance(now) {
    const { first, last } = this.range();
    const length = last + 1 < this.n ? this.times[last + 1] - this.times[first] : lasts(this.times) - this.times[first];
    const before = this.lastTick || now;
    this.lastTick = now;
    if (length <= 0) return;
    let elapsed = now - this.origin;
    if (elapsed < 0 || elapsed >= length) {
      elapsed = ((elapsed % length) + length) % length;
      this.origin = now - elapsed;
    }
    const next = Math.min(frameAt(this.times, this.times[first] + elapsed), last);
    if (next === this.frame.value) return;
    if (!this.has(next) || !this.mayShow(next)) {
      this.origin += now - before; // the picture is late: time waits for it, nothing is skipped
      this.want();
      return;
    }
    this.frame.value = next;
    if (next % 8 === 0) this.want();
  }

  close() {
    cancelAnimationFrame(this.request);
    this.isPlaying.value = false;
    this.worker.terminate();
    this.ring?.close();
  }
}
