// Measurements of a study in the order in which they are read: who gave them, on which clip, what a number stands on. Pure.
import { capital, count, number } from "./words.js";

/** Who gives a number that was read off the pixels, of a strip or by landmarks that were found. */
export const ENGINE = "engine";
const BY_HAND = "marked by hand";

/** @typedef {{title: string, clip: string, rows: any[]}} Group rows of one clip; "" is none */
/** @typedef {{title: string, groups: Group[]}} Part */

/** @param {any} item */
const partOf = (item) => {
  if (item.given_by === ENGINE) return "measured by the engine";
  return item.given_by.startsWith(BY_HAND) ? BY_HAND : "given with the study";
};

/** Measurements by who gave them and by clip, each in the order in which they came. @param {any[]} all @returns {Part[]} */
export function parts(all) {
  /** @type {Part[]} */
  const found = ["given with the study", "measured by the engine", BY_HAND].map((title) => ({
    title,
    groups: [],
  }));
  for (const item of all) {
    const part = /** @type {Part} */ (found.find((each) => each.title === partOf(item)));
    const [title, clip] = part.title === "given with the study" ? [item.given_by, ""] : [item.clip, item.clip];
    let group = part.groups.find((each) => each.title === title && each.clip === clip);
    if (!group) {
      group = { title, clip, rows: [] };
      part.groups.push(group);
    }
    group.rows.push(item);
  }
  return found.filter((part) => part.groups.length > 0);
}

/** Numbers of a clip that were marked on it by hand and stand in the engine's stead. @param {any[]} all @param {string} clip */
export const byHand = (all, clip) =>
  all.filter((each) => each.given_by === BY_HAND && each.clip === clip && each.name && each.value !== null);

/** Rows of a group with what is said once below several: numbers that have none for one reason make one row. @param {any[]} rows */
export function told(rows) {
  /** @type {{item: any, labels: string[], note: string}[]} */
  const found = [];
  for (const item of rows) {
    const last = found[found.length - 1];
    if (last && item.value === null && last.item.value === null && last.item.reason === item.reason) {
      last.labels.push(item.label);
      continue;
    }
    const note = noteOf(item);
    if (last && note === last.note) last.note = ""; // said below the last one that it holds for
    found.push({ item, labels: [item.label], note });
  }
  return found;
}

/** What a number stands on where that is more than a word. @param {any} item */
function noteOf(item) {
  if (item.value === null) return "";
  const doubt = item.validity && item.validity !== "holds" ? `${capital(item.validity.replace(/^note: /, ""))}.` : "";
  return [doubt, item.beside ? `${capital(item.beside)}.` : ""].filter(Boolean).join(" ");
}

/** Names of what has no number for one reason: so many as a line holds. @param {string[]} names */
export const namesWords = (names) =>
  names.length > 4 ? `${names.slice(0, 3).join(", ")} and ${names.length - 3} more` : names.join(", ");

/** A number with its uncertainty and unit, or a dash. @param {any} item */
export function valueWords({ value, unit, uncertainty }) {
  if (value === null) return "–";
  const bare = unit === "1" ? "" : unit;
  return uncertainty ? `${number(value)} ± ${number(uncertainty, bare, 2)}` : number(value, bare);
}

/** That a number is a bound, of a clip that another goes before, or has a note that follows; "" else. @param {any} item */
export function standing(item) {
  if (item.value !== null && item.rank > 1) return "another clip gives it";
  if (item.value === null || !item.validity || item.validity === "holds") return "";
  return isBound(item) ? item.validity.split(":")[0] : "note below";
}

/** Whether a number tells only how much it is at least, or at most. @param {any} item */
export const isBound = (item) => item.value !== null && /^at (least|most)/.test(item.validity);

/** The rows of the tables that speak of a number, and why none does. @param {any} item */
export function meaning(item) {
  const said = item.readings.filter((/** @type {any} */ each) => each.applies);
  if (said.length > 0 || item.value === null) return { said, none: "" };
  if (isBound(item)) return { said, none: "a bound lies in no interval" };
  const silent = item.readings[0]?.reason ?? "";
  if (item.given_by === ENGINE) return { said, none: silent }; // its own reason tells how it was measured
  return { said, none: item.reason || silent || "the tables have no row for it" };
}

/**
 * What a row says, and what it adds: the first sentence and the rest. That a repeated scan may fall on the other side
 * of a limit is always said. @param {any} reading @returns {[string, string]}
 */
export function saidAndMore({ words, reason, citation, repeat_lower = null, repeat_words = "" }) {
  const [first, ...rest] = (words || reason).split(/(?<=\.) (?=[A-Z])/);
  const source = citation && !(words || "").includes(citation) ? ` [${citation}]` : "";
  const isNear = repeat_lower !== null && repeat_words;
  if (!isNear && repeat_words) rest.push(repeat_words);
  return [`${first}${source}${isNear ? ` ${repeat_words}` : ""}`, rest.join(" ")];
}

/** What numbers mean together, in sentences. @param {any} meaning of the review @returns {string[]} */
export function togetherWords(meaning) {
  const remarks = (meaning?.remarks ?? []).map((/** @type {any} */ each) => {
    const likely = each.likely ? ` Likely: ${each.likely}.` : "";
    return `${each.words}${likely}${each.citation ? ` [${each.citation}]` : ""}`;
  });
  const grades = (meaning?.gradings ?? []).map((/** @type {any} */ each) => {
    const used = each.used?.length ? ` From ${each.used.join("; ")}.` : "";
    const missing = each.missing?.length ? ` Missing: ${each.missing.join("; ")}.` : "";
    const source = [each.citation, each.status].filter(Boolean).join(", ");
    const caution = each.result && each.caution ? ` ${each.caution}` : "";
    return `${each.title}: ${each.result || `empty, ${each.reason}`}.${used}${missing}${source ? ` [${source}]` : ""}${caution}`;
  });
  return [...remarks, ...grades];
}

/**
 * What a number was at earlier visits, in sentences; of rows that are alike the first says it.
 * @param {any} review @param {any} item @returns {string[]}
 */
export function sinceWords(review, item) {
  const changes = review?.meaning?.changes ?? [];
  if (item.value === null || item.rank > 1 || changes.length === 0) return [];
  const isAlike = (/** @type {any} */ each) =>
    each.label === item.label && each.given_by === item.given_by && each.clip === item.clip;
  const first = review.measurements.find(
    (/** @type {any} */ each) => each.name === item.name && isAlike(each) && each.value !== null && each.rank <= 1,
  );
  if (first !== item) return [];
  return changes
    .filter((/** @type {any} */ each) => each.quantity === item.name && isAlike(each))
    .map((/** @type {any} */ each) =>
      each.citation ? `${each.words.replace(/\.$/, "")} [${each.citation}].` : each.words,
    );
}

/** Limits that can be drawn with a number: of a row that speaks, in the number's unit. @param {any} item @param {any} reading */
export function limitsOf(item, reading) {
  const [own, its] = [item.unit || "1", reading.unit || "1"];
  const isSame = own === its || (its.startsWith("cm/kg^") && own === "1"); // an index by weight may be given bare
  if (item.value === null || !isSame || (reading.lower === null && reading.upper === null)) return null;
  const { lower, upper, repeat_lower = null, repeat_upper = null } = reading;
  const repeat = repeat_lower === null || repeat_upper === null ? null : [repeat_lower, repeat_upper];
  return { lower, upper, repeat, isInterval: reading.kind === "reference_interval" };
}

/** How many measurements there are, in a line. @param {any[]} all */
export function countWords(all) {
  const n = all.filter((each) => each.value !== null).length;
  return n === 0 ? "no measurements" : count(n, "measurement");
}
