// Which act taking back and putting back mean: the rules of store/taking_back.py, over the log and what is on its way.

/**
 * @typedef {{id: string, action: string, undoes: string}} Line of the log, or of what will be its next lines
 * @typedef {import("./acts.js").Act} Act
 */

const SIGN = "sign";

/** Acts as the log will hold them. @param {Act[]} acts @returns {Line[]} */
export const linesOf = (acts) =>
  acts.map((each) => ({ id: each.id, action: each.action, undoes: each.body.entry ?? "" }));

/** What is taken back, with the line that did so and holds itself. @param {Line[]} lines @returns {Map<string, string>} */
function takenBackIn(lines) {
  /** @type {Map<string, string>} */
  const by = new Map();
  for (const line of lines.toReversed()) if (line.undoes && !by.has(line.id)) by.set(line.undoes, line.id);
  return by;
}

/** The newest act that holds and can be taken back, "" when there is none: a signature is the floor. @param {Line[]} lines */
export function nextUndo(lines) {
  const gone = takenBackIn(lines);
  const newest = lines.findLast((each) => !each.undoes && !gone.has(each.id));
  return newest && newest.action !== SIGN ? newest.id : "";
}

/** The undo that is to be undone, the last one first; "" when nothing was taken back since the last act. @param {Line[]} lines */
export function nextRedo(lines) {
  const acts = new Set(lines.filter((each) => !each.undoes).map((each) => each.id));
  const undos = new Set([...takenBackIn(lines)].filter(([what]) => acts.has(what)).map(([, undo]) => undo));
  const since = lines.findLastIndex((each) => !each.undoes);
  return lines.slice(since + 1).findLast((each) => undos.has(each.id))?.id ?? "";
}

/** Acts on their way that nothing behind them takes back. @param {Act[]} acts @returns {Act[]} */
export function standing(acts) {
  const gone = takenBackIn(linesOf(acts));
  return acts.filter((each) => !gone.has(each.id));
}

/** What falls with an act that is not done: its taking back, and the putting back of that. @param {Act[]} acts @param {string} id */
export function fallenWith(acts, id) {
  const gone = new Set([id]);
  for (const each of acts) if (gone.has(each.body.entry)) gone.add(each.id);
  return acts.filter((each) => each.id !== id && gone.has(each.id));
}
