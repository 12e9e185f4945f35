// Files on their way in: a folder, a zip or files, dropped or chosen; each file's fate can be seen.
import { ask, newId, post, Told } from "./api.js";
import { signal } from "./html.js";
import { inPool, untilAnswered } from "./sending.js";

/**
 * @typedef {"waits" | "is sent" | "received" | "refused" | "left out"} Fate
 * @typedef {{name: string, size: number, fate: Fate, why: string, mayGoAgain?: boolean}} Sent `mayGoAgain`: refused for now, for want of room
 * @typedef {{id: string, title: string, files: Sent[], isDone: boolean, why: string, waits: string, parent: string}} Intake
 *   `parent`: the study that it answers, "" for a new case; `why`: it stopped; `waits`: it goes on by itself
 * @typedef {{name: string, file: File}[]} Found
 */

export const intakes = signal(/** @type {Intake[]} */ ([]));
/** The files themselves, as long as their intake is shown. @type {Map<string, Found>} */
const held = new Map();

const LEFT_OUT =
  "its name, or its folder's, begins with a dot: systems keep such files for themselves. Rename it to send it.";
const NOTHING = "Nothing was found in what was dropped. Drop the folder, the zip or the files themselves.";
const UNREADABLE = "the browser cannot read it any more: it was moved, changed or taken out. Drop it again.";
const NO_ROOM = 507;

/** @param {any} entry @param {string} [folder] @returns {Promise<Found>} */
async function filesIn(entry, folder = "") {
  if (entry.isFile) {
    const file = await new Promise((good, bad) => entry.file(good, bad));
    return [{ name: folder + file.name, file }];
  }
  const reader = entry.createReader();
  const found = [];
  for (;;) {
    const some = await new Promise((good, bad) => reader.readEntries(good, bad)); // at most 100 at a time
    if (some.length === 0) return found;
    for (const each of some) found.push(...(await filesIn(each, `${folder}${entry.name}/`)));
  }
}

/** @param {DataTransfer} dropped @param {string} [parent] the study that this one answers */
export async function takeDrop(dropped, parent = "") {
  const entries = [...dropped.items]
    .map((item) => item.webkitGetAsEntry?.())
    .filter((each) => each !== null && each !== undefined);
  const titled = entries.find((each) => each.isDirectory || /\.zip$/i.test(each.name));
  const found = entries.length
    ? (await Promise.all(entries.map((each) => filesIn(each)))).flat()
    : [...dropped.files].map((file) => ({ name: file.name, file }));
  await begin(titled?.name ?? titleOf(found), found, parent);
}

/** @param {{name: string}[]} found what single files are called together */
function titleOf(found) {
  if (found.length === 1) return found[0].name.replace(/\.[^.]*$/, "");
  return `${found.length} files`;
}

/** @param {FileList} chosen @param {string} [parent] the study that this one answers */
export async function takeChosen(chosen, parent = "") {
  const found = [...chosen].map((file) => ({ name: file.webkitRelativePath || file.name, file }));
  if (found.length === 0) return;
  await begin(found[0].name.includes("/") ? found[0].name.split("/")[0] : titleOf(found), found, parent);
}

/** A file that a system keeps for itself. @param {string} name */
const isHidden = (name) => name.split("/").some((part) => part.startsWith("."));

/** @param {string} title @param {Found} found @param {string} parent */
async function begin(title, found, parent) {
  const id = newId();
  const files = found.map(({ name, file }) => {
    const [fate, why] = isHidden(name)
      ? /** @type {const} */ (["left out", LEFT_OUT])
      : /** @type {const} */ (["waits", ""]);
    return { name, size: file.size, fate, why };
  });
  const isNothing = files.every((each) => each.fate === "left out");
  const why = isNothing ? NOTHING : "";
  held.set(id, found);
  intakes.value = [
    ...intakes.value,
    { id, title: title.replace(/\.zip$/i, ""), files, isDone: false, why, waits: "", parent },
  ];
  if (!isNothing) await deliver(id);
}

/** Send what was refused for want of room, or was not sent since all of it stopped. @param {string} id */
export async function sendAgain(id) {
  change(id, (intake) => ({
    ...intake,
    why: "",
    isDone: false,
    files: intake.files.map((each) => (each.mayGoAgain ? waiting(each) : each)),
  }));
  await deliver(id);
}

/** @param {Sent} each @returns {Sent} */
const waiting = (each) => ({ ...each, fate: "waits", why: "", mayGoAgain: false });

/** Send every file that waits, and say when all was sent. @param {string} id */
async function deliver(id) {
  const intake = intakes.value.find((each) => each.id === id);
  if (!intake) return;
  try {
    await surely(id, () => post("/api/studies", { id, title: intake.title, parent: intake.parent }));
    const left = intake.files.map((each, n) => ({ n, fate: each.fate })).filter(({ fate }) => fate === "waits");
    await Promise.all(left.map(({ n }) => inPool(() => sendFile(id, n))));
    await surely(id, () => ask(`/api/studies/${id}/complete`, { method: "POST" }));
    change(id, (now) => ({ ...now, isDone: true }));
  } catch (error) {
    const why = error instanceof Error ? error.message : String(error);
    change(id, (now) => ({
      ...now,
      why,
      files: now.files.map((each) => (each.fate === "is sent" ? waiting(each) : each)),
    }));
  }
}

/** @param {string} id @param {number} n */
async function sendFile(id, n) {
  const what = held.get(id)?.[n];
  if (!what) return; // put away meanwhile
  const { name, file } = what;
  const say = (/** @type {Fate} */ fate, why = "", mayGoAgain = false) =>
    change(id, (intake) => ({
      ...intake,
      files: intake.files.map((each, k) => (k === n ? { ...each, fate, why, mayGoAgain } : each)),
    }));
  say("is sent");
  try {
    const address = `/api/studies/${id}/files?name=${encodeURIComponent(name)}`;
    await surely(id, () => ask(address, { method: "PUT", body: file }), file);
    say("received");
  } catch (error) {
    if (!(error instanceof Told) && !(error instanceof DOMException)) throw error;
    const isFile = error instanceof DOMException;
    say("refused", isFile ? UNREADABLE : error.message, !isFile && error.status === NO_ROOM);
  }
}

/** Do it, however long the service is away; what it waits for is shown. @template T @param {string} id @param {() => Promise<T>} deed @param {File} [file] that it reads @returns {Promise<T>} */
function surely(id, deed, file) {
  const tell = (/** @type {string} */ waits) =>
    change(id, (intake) => (intake.waits === waits ? intake : { ...intake, waits }));
  const isWanted = () => held.has(id);
  return untilAnswered(deed, { tell, isWanted, file });
}

/** @param {string} id @param {(intake: Intake) => Intake} how */
function change(id, how) {
  intakes.value = intakes.value.map((each) => (each.id === id ? how(each) : each));
}

/** Put an intake away; what was not sent of it is not sent any more. @param {string} id */
export function forget(id) {
  held.delete(id);
  intakes.value = intakes.value.filter((each) => each.id !== id);
}
