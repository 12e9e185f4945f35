// Marks of a marks file that came with the study: shown as they were sent, never changed here.
import { get } from "./api.js";
import { areasOf } from "./areas.js";
import { effect, signal } from "./html.js";
import { page } from "./model.js";
import { readOut } from "./read_out.js";

/** @typedef {{kind: string, frame: number, points: number[][], landmark: string, label: string, words: string}} SentMark */

/** By the key of the clip. */
const sent = signal(/** @type {Record<string, any>} */ ({}));

let asked = ""; // of which study, and what lay there

effect(() => {
  const { id = "", study = null, files = [] } = page.value ?? {};
  const wanted = JSON.stringify([id, study?.clips?.length ?? 0, files.length]);
  if (wanted === asked) return;
  const isOther = JSON.parse(asked || "[0]")[0] !== id;
  asked = wanted;
  if (isOther) sent.value = {};
  if (id && study?.clips?.length) void fetchSent(id, wanted);
});

/** @param {string} study @param {string} wanted */
async function fetchSent(study, wanted) {
  try {
    const found = await get(`/api/studies/${study}/marks/sent`);
    if (asked === wanted) sent.value = found;
  } catch {
    if (asked === wanted) asked = ""; // asked again when the study is loaded next
  }
}

/**
 * The marks that were sent for a clip, each with what it reads: by the scale of its own file, as in the papers.
 * @param {string} key @param {any} reading @returns {SentMark[]}
 */
export function sentOn(key, reading) {
  const marks = sent.value[key];
  if (!marks?.drawn?.length) return [];
  const areas = areasOf(reading?.layout, { depth: marks.scale ?? null, axes: marks.axes ?? [] });
  const isTissue = reading?.mode?.mode === "tissue_doppler";
  const held = isTissue ? areas.map((each) => ({ ...each, isTissue })) : areas;
  return marks.drawn.map((/** @type {any} */ each) => ({ ...each, words: readOut(each.kind, each.points, held) }));
}
