// Worker: fetches frame packets of a clip and decodes them, the frames asked for first. Nothing is encoded anew.
// A packet: index u32, form u8, channels u8, 0 u16, rows u32, cols u32, n_bytes u32 (little endian), then the bytes.

/**
 * @typedef {{index: number, form: number, channels: number, rows: number, cols: number, bytes: Uint8Array<ArrayBuffer>}} Packet
 * @typedef {{address: string, n: number, wanted: number[]}} Wish
 * @typedef {{address: string, n: number}} Ahead
 */

const HEAD_BYTES = 20;
const BROKEN = 0; // this frame cannot be had; the bytes say why
const JPEG = 1;
const UNREADABLE = 422; // the first frame asked for cannot be had
const AT_ONCE = 24;
const FIRST_PAUSE_MS = 500; // before frames that did not come are asked for again; twice as long each time
const LONGEST_PAUSE_MS = 8000;
const KEPT_BYTES = 192 * 1024 * 1024; // packets as they came; the least recently watched clip goes first
const AHEAD = 12; // first frames of a clip that may come next: until they are played, the rest is here

/** @type {Map<string, Map<number, Packet>>} */
const kept = new Map();
let keptBytes = 0;
/** @type {Wish | null} */
let wish = null;
/** Clips whose first frames are fetched while nothing else is wanted. @type {Ahead[]} */
let ahead = [];
let isAtWork = false;
/** How often in a row the frames that are wanted did not come. */
let nFailed = 0;
/** Ends the pause before they are asked for again. */
let wake = () => {};

/** The row ends at a frame that cannot be had; those before it can be used. */
class Ended extends Error {
  /** @param {string} what @param {number} index */
  constructor(what, index) {
    super(what);
    this.index = index;
  }
}

/** Cut whole packets off the front. @param {Uint8Array<ArrayBuffer>} data @returns {{packets: Packet[], rest: Uint8Array<ArrayBuffer>}} */
export function cut(data) {
  const packets = [];
  let at = 0;
  while (data.length - at >= HEAD_BYTES) {
    const head = new DataView(data.buffer, data.byteOffset + at, HEAD_BYTES);
    const size = head.getUint32(16, true);
    if (data.length - at - HEAD_BYTES < size) break;
    packets.push({
      index: head.getUint32(0, true),
      form: head.getUint8(4),
      channels: head.getUint8(5),
      rows: head.getUint32(8, true),
      cols: head.getUint32(12, true),
      bytes: data.slice(at + HEAD_BYTES, at + HEAD_BYTES + size),
    });
    at += HEAD_BYTES + size;
  }
  return { packets, rest: data.slice(at) };
}

/** Raw samples as the four channels that a canvas takes. @param {Packet} packet */
export function rgba(packet) {
  const n = packet.rows * packet.cols;
  const out = new Uint32Array(n);
  const { bytes, channels } = packet;
  if (channels === 1) {
    for (let k = 0; k < n; k++) out[k] = 0xff000000 | (bytes[k] * 0x010101);
  } else {
    for (let k = 0, b = 0; k < n; k++, b += 3)
      out[k] = 0xff000000 | (bytes[b + 2] << 16) | (bytes[b + 1] << 8) | bytes[b];
  }
  return new ImageData(new Uint8ClampedArray(out.buffer), packet.cols, packet.rows);
}

/** @param {Packet} packet */
async function decoded(packet) {
  const source = packet.form === JPEG ? new Blob([packet.bytes], { type: "image/jpeg" }) : rgba(packet);
  return createImageBitmap(source, { colorSpaceConversion: "none", premultiplyAlpha: "none" });
}

/** @param {string} address @param {Packet} packet */
function keepPacket(address, packet) {
  const row = kept.get(address) ?? new Map();
  kept.delete(address);
  kept.set(address, row); // newest last
  if (!row.has(packet.index)) keptBytes += packet.bytes.length;
  row.set(packet.index, packet);
  for (const [other, packets] of kept) {
    if (keptBytes <= KEPT_BYTES) return;
    if (other === address || other === wish?.address) continue;
    for (const old of packets.values()) keptBytes -= old.bytes.length;
    kept.delete(other);
  }
  for (const [index, old] of row) {
    if (keptBytes <= KEPT_BYTES || index === packet.index) return;
    keptBytes -= old.bytes.length; // one long clip alone: what came first goes first
    row.delete(index);
  }
}

/** @param {Packet} packet @returns {string} */
function whyBroken(packet) {
  return JSON.parse(new TextDecoder().decode(packet.bytes)).error.what;
}

/** @param {string} address @param {Packet} packet */
async function hand(address, packet) {
  if (packet.form === BROKEN) {
    postMessage({ address, index: packet.index, broken: whyBroken(packet) });
    return;
  }
  try {
    const bitmap = await decoded(packet);
    const form = packet.form === JPEG ? "JPEG as stored" : "raw";
    postMessage({ address, index: packet.index, bitmap, form }, { transfer: [bitmap] });
  } catch {
    const broken = `frame ${packet.index + 1} cannot be decoded by this browser`;
    postMessage({ address, index: packet.index, broken });
  }
}

/** @param {string} address @param {number} first @param {number} count @param {() => boolean} isWanted asked after each piece */
async function fetchFrom(address, first, count, isWanted) {
  const answer = await fetch(`${address}?first=${first}&count=${count}`, { credentials: "same-origin" });
  if (!answer.ok || !answer.body) {
    const what = (await answer.json()).error?.what ?? `answer ${answer.status}`;
    throw answer.status === UNREADABLE ? new Ended(what, first) : new Error(what);
  }
  const reader = answer.body.getReader();
  let rest = /** @type {Uint8Array<ArrayBuffer>} */ (new Uint8Array(0));
  let got = 0;
  /** @type {Packet | null} */
  let lost = null; // where the broken frames began that came last
  for (;;) {
    const { done, value } = await reader.read();
    if (done) {
      if (lost && got < count) throw new Ended(whyBroken(lost), lost.index); // nothing after them can be had
      return got;
    }
    const joined = new Uint8Array(rest.length + value.length);
    joined.set(rest);
    joined.set(value, rest.length);
    const found = cut(joined);
    rest = found.rest;
    for (const packet of found.packets) {
      lost = packet.form === BROKEN ? (lost ?? packet) : null;
      got += 1;
      keepPacket(address, packet);
      if (wish?.address === address && wish.wanted.includes(packet.index)) {
        wish.wanted = wish.wanted.filter((each) => each !== packet.index);
        await hand(address, packet);
      }
    }
    if (!isWanted()) {
      await reader.cancel();
      return got;
    }
  }
}

/** How long to wait before asking again. @param {number} n how often it failed in a row, from 1 @returns {number} ms */
export function pauseAfter(n) {
  return Math.min(FIRST_PAUSE_MS * 2 ** (n - 1), LONGEST_PAUSE_MS);
}

/** @param {number} ms */
async function pause(ms) {
  await new Promise((resolve) => {
    wake = () => resolve(undefined);
    setTimeout(resolve, ms);
  });
}

/** The frame that is wanted first: decode it, or fetch from there on. @param {Wish} now */
async function serve(now) {
  const { address, n, wanted } = now;
  const index = wanted[0];
  const packet = kept.get(address)?.get(index);
  if (packet) {
    now.wanted = wanted.slice(1);
    await hand(address, packet);
    return;
  }
  try {
    const isWanted = () => wish?.address === address;
    const got = await fetchFrom(address, index, Math.min(AT_ONCE, n - index), isWanted);
    if (got === 0 && wish?.address === address) throw new Error("no frame came");
    nFailed = 0;
  } catch (error) {
    const trouble = error instanceof Error ? error.message : String(error);
    if (error instanceof Ended) {
      if (wish?.address === address) wish.wanted = [];
      postMessage({ address, index, trouble, ended: error.index });
      return;
    }
    if (wish?.address !== address) return;
    postMessage({ address, index, trouble, waits: true });
    nFailed += 1;
    await pause(pauseAfter(nFailed));
  }
}

/** The first frames of a clip that may come next; what goes wrong is told when it is wanted. @param {Ahead} next */
async function fetchAhead({ address, n }) {
  const count = Math.min(AHEAD, n);
  const there = kept.get(address);
  if (there && Array.from({ length: count }, (_, k) => k).every((k) => there.has(k))) return;
  const isWanted = () => wish === null || wish.wanted.length === 0 || wish.address === address;
  await fetchFrom(address, 0, count, isWanted).catch(() => 0);
}

async function work() {
  if (isAtWork) return;
  isAtWork = true;
  try {
    for (;;) {
      if (wish && wish.wanted.length > 0) await serve(wish);
      else if (ahead.length > 0) await fetchAhead(/** @type {Ahead} */ (ahead.shift()));
      else return;
    }
  } finally {
    isAtWork = false;
  }
}

self.addEventListener("message", (event) => {
  const said = /** @type {MessageEvent<Wish & {ahead?: Ahead[]}>} */ (event).data;
  if (said.ahead) ahead = said.ahead;
  else {
    const isOther = said.address !== wish?.address;
    if (isOther) nFailed = 0;
    wish = said;
    if (isOther || kept.get(said.address)?.has(said.wanted[0])) wake();
  }
  void work();
});
