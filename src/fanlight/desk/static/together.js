// Acts that were done with one key are taken back with one key, and put back likewise, as long as this page lives.

/** @typedef {{n: number, ids: Set<string>}} Group `n` acts; the ids are theirs, and of what takes them back */

/** @type {Map<string, Group>} */
const groups = new Map();

/** Hold acts as one. @param {string[]} ids */
export function hold(ids) {
  if (ids.length < 2) return;
  const group = { n: ids.length, ids: new Set(ids) };
  for (const id of ids) groups.set(id, group);
}

/** What takes an act back, or puts it back, belongs to its group too. @param {string} id @param {string} entry that it is against */
export function join(id, entry) {
  const group = groups.get(entry);
  if (!group) return;
  group.ids.add(id);
  groups.set(id, group);
}

/** Whether two entries were done as one. @param {string} one @param {string} other */
export const isWith = (one, other) => groups.get(one)?.ids.has(other) ?? false;

/** How many acts were done as one with an entry, 1 for one that stands alone. @param {string} id */
export const nWith = (id) => groups.get(id)?.n ?? 1;
