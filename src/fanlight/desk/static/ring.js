// Decoded frames around the playhead, bounded: what is farthest ahead in playing order goes first.

const RING_BYTES = 160 * 1024 * 1024;
const MOST = 240;

/** Frames that will be wanted next, the playhead first. @param {number} at @param {number} first @param {number} last @param {number} count */
export function upcoming(at, first, last, count) {
  const length = last - first + 1;
  const start = Math.min(Math.max(at, first), last);
  return Array.from({ length: Math.min(count, length) }, (_, k) => first + ((start - first + k) % length));
}

export class Ring {
  /** @param {number} rows @param {number} cols */
  constructor(rows, cols) {
    this.size = Math.max(8, Math.min(MOST, Math.floor(RING_BYTES / (rows * cols * 4))));
    /** @type {Map<number, ImageBitmap>} */
    this.frames = new Map();
  }

  /** @param {number} index */
  get(index) {
    return this.frames.get(index) ?? null;
  }

  /** @param {number} index @param {ImageBitmap} bitmap @param {number[]} wanted in the order in which they are wanted */
  put(index, bitmap, wanted) {
    this.frames.get(index)?.close();
    this.frames.set(index, bitmap);
    if (this.frames.size <= this.size) return;
    const rank = new Map(wanted.map((each, n) => [each, n]));
    const worst = [...this.frames.keys()].sort((a, b) => (rank.get(b) ?? Infinity) - (rank.get(a) ?? Infinity))[0];
    this.frames.get(worst)?.close();
    this.frames.delete(worst);
  }

  close() {
    for (const bitmap of this.frames.values()) bitmap.close();
    this.frames.clear();
  }
}
