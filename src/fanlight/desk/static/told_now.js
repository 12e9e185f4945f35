// Findings of a clip as they are told now: those told anew take the place of the draft's. Pure.

/**
 * What stands of the draft, with what was told anew in its place. Findings on the plane go together: where some are told
 * anew, those that the view does not ask for any more are gone, and those that it asks for now are there. Until they
 * are told for the view in which a clip lies, what they said of it in another view is not shown.
 * @param {any[]} found of the draft
 * @param {any[]} anew
 * @param {Record<string, any> | undefined} criteria by key; those of the plane are asked anew by a view, a mark, a tick
 * @param {boolean} isElsewhere whether the clip lies in another view than in the draft
 * @returns {any[]}
 */
export function toldNow(found, anew, criteria, isElsewhere = false) {
  const isOfPlane = (/** @type {any} */ each) => criteria?.[each.criterion]?.family === "plane";
  if (anew.length === 0 && !isElsewhere) return found;
  const now = new Map(anew.map((each) => [each.criterion, each]));
  const held = found.filter((each) => now.has(each.criterion) || !isOfPlane(each));
  const known = new Set(found.map((each) => each.criterion));
  return [...held.map((each) => now.get(each.criterion) ?? each), ...anew.filter((each) => !known.has(each.criterion))];
}
