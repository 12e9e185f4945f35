// What holds for velocities and gradients of a spectrum, said beside the marks that read them. Pure.

/** The formula and its source, as reference/formulas/flow.py has them. */
export const FORMULA = "4v², v in m/s: simplified Bernoulli, QUINONES2002";

/** @typedef {{source: string, notes: string[]}} SpectrumNotes */

/**
 * @param {any} layout @param {import("./areas.js").Area[]} areas
 * @returns {SpectrumNotes | null} null where nothing on the screen reads a velocity
 */
export function spectrumNotes(layout, areas) {
  const spectra = areas.filter((each) => each.kind === "spectrum" && each.cmsPerRow != null);
  if (spectra.length === 0) return null;
  const isTissue = spectra.every((each) => each.isTissue);
  const notes = [
    isTissue
      ? "Movement of muscle: no gradient is read. No angle is corrected: a velocity is a lower bound."
      : "The flow before a narrowing is taken as slow. No angle is corrected: where the beam did not run along the flow, velocity and gradient are lower bounds.",
  ];
  if (spectra.some((each) => Number(each.cmsPerRow) < 0))
    notes.push("Inverted, as the file says: up is away from the probe, and reads negative.");
  const corrected = (layout?.regions ?? [])
    .map((/** @type {any} */ each) => each.region.doppler_angle_deg)
    .find(Boolean);
  if (corrected)
    notes.push(
      `The machine corrected for an angle of ${Math.abs(corrected).toFixed(0)}°: its scale holds for that angle, and a wrong one makes velocities too high.`,
    );
  return { source: isTissue ? "" : FORMULA, notes };
}
