// How the clip on the stage is scaled, by its file and by what a person marked on it.
import { areasOf } from "./areas.js";
import { wasDone } from "./log.js";
import { state } from "./model.js";

/** @param {string} key of a clip @returns {import("./areas.js").Marked} */
export function markedOn(key) {
  const axes = state.value.strip_scales.filter((/** @type {any} */ each) => each.clip === key);
  return {
    depth: state.value.scales[key]?.distance ?? null,
    axes: axes.map((/** @type {any} */ each) => each.marked),
    // A reading may be older than the act that took a scale back; points that came in a file of the study hold.
    holdsRead: !wasDone("set scale", key),
  };
}

/** @param {any} clip @param {any} reading @returns {import("./areas.js").Area[]} */
export function areasFor(clip, reading) {
  const areas = areasOf(reading?.layout, markedOn(clip.key));
  return reading?.mode?.mode === "tissue_doppler" ? areas.map((each) => ({ ...each, isTissue: true })) : areas;
}

const SPECTRA = ["pulsed_wave", "continuous_wave", "tissue_doppler"];

/** Whether the clip holds a strip, as far as the engine or a person says; where nobody can tell, it may. @param {any} reading @param {import("./areas.js").Area[]} areas */
export function hasStrip(reading, areas) {
  const mode = reading?.mode?.mode ?? null;
  return (
    mode === null ||
    mode === "m_mode" ||
    SPECTRA.includes(mode) ||
    areas.some((each) => each.kind === "M-mode" || each.kind === "spectrum")
  );
}

/** What is known of the scale, in words. @param {any} clip @param {any} reading */
export function scaleWords(clip, reading) {
  const { depth, axes } = markedOn(clip.key);
  const areas = areasFor(clip, reading);
  const words = areas.flatMap((each) => [
    each.mmPerRow == null ? "" : `${each.mmPerRow.toFixed(3)} mm`,
    each.msPerCol == null ? "" : `${each.msPerCol.toFixed(2)} ms`,
    each.cmsPerRow == null ? "" : `${Math.abs(each.cmsPerRow).toFixed(2)} cm/s`,
  ]);
  const known = [...new Set(words.filter(Boolean))];
  if (known.length === 0) return "not calibrated";
  return `${known.join(", ")} a pixel${depth || axes.length > 0 ? ", marked by you" : ""}`;
}

/** What is still to be marked before a strip gives times and velocities. @param {any} reading @param {import("./areas.js").Area[]} areas */
export function missingWords(reading, areas) {
  const missing = [];
  if (!areas.some((each) => each.mmPerRow != null)) missing.push("two points of the depth scale (lengths)");
  if (hasStrip(reading, areas)) {
    const strips = areas.filter((each) => each.kind === "M-mode" || each.kind === "spectrum");
    if (missing.length === 0 && strips.some((each) => each.kind === "M-mode" && each.mmPerRow == null))
      missing.push("two points of the strip's own depth scale (depths)");
    if ((reading?.mode?.mode || strips.length > 0) && !strips.some((each) => each.msPerCol != null))
      missing.push("two points of the time scale (times)");
    const isSpectrum = SPECTRA.includes(reading?.mode?.mode);
    const spectra = strips.filter((each) => each.kind === "spectrum");
    if (isSpectrum && spectra.length === 0) missing.push("two points of the velocity scale (velocities)");
    if (spectra.some((each) => each.zeroRow == null) || (isSpectrum && spectra.length === 0))
      missing.push("the baseline");
    if (isSpectrum) return missing.filter((each) => !each.includes("depth"));
  }
  return missing;
}
