// The keys of the desk: one table that the program obeys and from which the help is made.
// Letters belong to the path; everything else is on keys that are no letters, so that placing needs no mode.

/**
 * @typedef {"everywhere" | "study" | "waiting"} KeyPlace
 * @typedef {{act: string, keys: string[], shown: string[], words: string, place: KeyPlace}} KeyRow
 * @typedef {{act: string, key: string, row: KeyRow}} Pressed
 */

const LETTERS = [..."abcdefghijklmnopqrstuvwxyz"];
const DIGITS = [..."1234567890"]; // 0 is the tenth

// biome-ignore format: one row a line
/** @type {KeyRow[]} */
export const KEYS = [
  { act: "place", keys: LETTERS, shown: ["a to z"], place: "study", words: "place the clip on the stage in the step with this letter; again: the next valve of its Doppler" },
  { act: "take out", keys: ["Delete"], shown: ["Delete"], place: "study", words: "take the clip out of the path" },
  { act: "keep all", keys: ["Enter"], shown: ["Enter"], place: "study", words: "confirm the view and keep every finding proposed for this clip, and go to the next that needs a decision" },
  { act: "confirm all", keys: ["Shift+Enter"], shown: ["Shift Enter"], place: "study", words: "confirm the proposed view of every clip at once; clips to be judged first are left out" },
  { act: "next finding", keys: ["."], shown: ["."], place: "study", words: "next finding" },
  { act: "previous finding", keys: [","], shown: [","], place: "study", words: "previous finding" },
  { act: "keep", keys: ["+"], shown: ["+"], place: "study", words: "keep the chosen finding" },
  { act: "overrule", keys: ["-"], shown: ["-"], place: "study", words: "overrule the chosen finding" },
  { act: "play", keys: [" "], shown: ["Space"], place: "study", words: "play, stop" },
  { act: "loop beat", keys: ["Shift+ ", "F7"], shown: ["Shift Space", "F7"], place: "study", words: "play one beat again and again, or the whole clip" },
  { act: "frame back", keys: ["ArrowLeft"], shown: ["←"], place: "study", words: "one frame back" },
  { act: "frame on", keys: ["ArrowRight"], shown: ["→"], place: "study", words: "one frame on" },
  { act: "beat back", keys: ["Shift+ArrowLeft"], shown: ["Shift ←"], place: "study", words: "one beat back" },
  { act: "beat on", keys: ["Shift+ArrowRight"], shown: ["Shift →"], place: "study", words: "one beat on" },
  { act: "previous", keys: ["ArrowUp"], shown: ["↑"], place: "everywhere", words: "previous clip; in the list, previous study" },
  { act: "next", keys: ["ArrowDown"], shown: ["↓"], place: "everywhere", words: "next clip; in the list, next study" },
  { act: "first", keys: ["Home"], shown: ["Home"], place: "everywhere", words: "first clip or study" },
  { act: "last", keys: ["End"], shown: ["End"], place: "everywhere", words: "last clip or study" },
  { act: "open", keys: ["Enter"], shown: ["Enter"], place: "waiting", words: "open the chosen study" },
  { act: "tick", keys: DIGITS, shown: ["1 to 9", "0"], place: "study", words: "tick the item with this number in the view's list: shown, not shown, no tick" },
  { act: "phrase", keys: ["/"], shown: ["/"], place: "study", words: "write or pick a phrase" },
  { act: "undo", keys: ["Backspace"], shown: ["Backspace"], place: "everywhere", words: "take back the last act" },
  { act: "redo", keys: ["Shift+Backspace"], shown: ["Shift Backspace"], place: "everywhere", words: "put back what was taken back" },
  { act: "larger", keys: ["="], shown: ["="], place: "study", words: "larger" },
  { act: "smaller", keys: ["'"], shown: ["'"], place: "study", words: "smaller" },
  { act: "brighter", keys: ["]"], shown: ["]"], place: "study", words: "window of grey: brighter" },
  { act: "darker", keys: ["["], shown: ["["], place: "study", words: "window of grey: darker" },
  { act: "harder", keys: ["}"], shown: ["}"], place: "study", words: "window of grey: narrower, more contrast" },
  { act: "softer", keys: ["{"], shown: ["{"], place: "study", words: "window of grey: wider, less contrast" },
  { act: "grey as stored", keys: ["\\"], shown: ["\\"], place: "study", words: "window of grey and size as at first" },
  { act: "marks", keys: ["F2"], shown: ["F2"], place: "study", words: "marks: point, line, angle, trace, none in turn" },
  { act: "follow", keys: ["F3"], shown: ["F3"], place: "study", words: "follow the marks of this clip through the beat, or no more" },
  { act: "found", keys: ["Shift+F2"], shown: ["Shift F2"], place: "study", words: "show what was found, or hide it: landmarks on their frames, lines of a strip" },
  { act: "keep found", keys: ["Shift+F3"], shown: ["Shift F3"], place: "study", words: "keep all landmarks shown on this frame as your marks" },
  { act: "beside", keys: ["F4"], shown: ["F4"], place: "study", words: "the same view in an earlier study beside it" },
  { act: "region", keys: ["F6"], shown: ["F6"], place: "everywhere", words: "from path to stage to findings" },
  { act: "papers", keys: ["F8"], shown: ["F8"], place: "study", words: "to the letters, and back" },
  { act: "back", keys: ["Escape"], shown: ["Esc"], place: "everywhere", words: "close what is open; else back to the waiting studies" },
  { act: "theme", keys: ["F9"], shown: ["F9"], place: "everywhere", words: "light or dim" },
  { act: "help", keys: ["?"], shown: ["?"], place: "everywhere", words: "this table" },
];

const NATIVE = "button, a[href], summary, select, [role=radio], [type=checkbox]";
const WRITING = "input:not([type=radio]):not([type=checkbox]), textarea, select, [contenteditable]";

/** @type {Map<string, (key: string) => void>} */
const obeyed = new Map();

/** Say what an act does. The newest word counts; returns how to take it back. */
export function obey(/** @type {string} */ act, /** @type {(key: string) => void} */ deed) {
  if (!KEYS.some((row) => row.act === act)) throw new Error(`no key has the act "${act}"`);
  obeyed.set(act, deed);
  return () => {
    if (obeyed.get(act) === deed) obeyed.delete(act);
  };
}

/** The name of a key as the table writes it. Shift is named only with keys that write nothing. */
export function nameOf(/** @type {KeyboardEvent} */ event) {
  const isNamed = event.key.length > 1 || event.key === " ";
  if (isNamed) return `${event.shiftKey ? "Shift+" : ""}${event.key}`;
  return event.key.toLowerCase();
}

/** @returns {Pressed[]} rows of the table that a pressed key means, in the order of the table */
export function rowsFor(/** @type {string} */ key) {
  return KEYS.filter((row) => row.keys.includes(key)).map((row) => ({ act: row.act, key, row }));
}

function isForControl(/** @type {KeyboardEvent} */ event) {
  const target = event.target instanceof Element ? event.target : null;
  if (!target) return false;
  if (target.closest(WRITING)) return event.key !== "Escape" && !/^F\d/.test(event.key);
  if (event.key === "Enter" && event.shiftKey) return false; // what it does is never meant for the control
  if (event.key === "Enter" || event.key === " ") return target.closest(NATIVE) !== null;
  if (event.key.startsWith("Arrow")) return target.closest("[type=radio], [role=listbox]") !== null;
  return false;
}

/** A key held down does these once: it would go on through the valves, or decide clip after clip unseen. */
const ONCE = new Set(["place", "keep all", "confirm all", "keep found"]);

/**
 * Obey the table.
 * @param {() => boolean} lettersCount whether keys that write a letter or sign act (WCAG 2.1.4: they can be put off)
 */
export function listen(lettersCount) {
  const heard = (/** @type {KeyboardEvent} */ event) => {
    if (event.defaultPrevented || event.ctrlKey || event.metaKey || event.altKey || event.isComposing) return;
    if (isForControl(event)) return;
    if (document.querySelector("dialog[open]") && event.key !== "Escape") return;
    const key = nameOf(event);
    const found = rowsFor(key).find((pressed) => obeyed.has(pressed.act));
    if (!found || (key.length === 1 && key !== " " && key !== "?" && !lettersCount())) return;
    event.preventDefault();
    if (event.repeat && ONCE.has(found.act)) return;
    obeyed.get(found.act)?.(key);
  };
  window.addEventListener("keydown", heard);
  return () => window.removeEventListener("keydown", heard);
}
