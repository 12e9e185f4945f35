// Files on their way in: a folder, a zip or files, dropped or chosen; each file's fate can be seen.
import { ask, newId, post, Told } from "./api.js";
import { signal } from "./html.js";

/**
 * @typedef {{name: string, size: number, fate: "waits" | "is sent" | "received" | "refused", why: string}} Sent
 * @typedef {{id: string, title: string, files: Sent[], isDone: boolean, why: string, parent: string}} Intake `parent`: the study that it answers, "" for a new case
 */

export const intakes = signal(/** @type {Intake[]} */ ([]));
const AT_ONCE = 3;
const TRIES = 5;

/** @param {any} entry @param {string} [folder] @returns {Promise<{name: string, file: File}[]>} */
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
  await send(titled?.name ?? titleOf(found), found, parent);
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
  await send(found[0].name.includes("/") ? found[0].name.split("/")[0] : titleOf(found), found, parent);
}

/** @param {string} title @param {{name: string, file: File}[]} found @param {string} parent */
async function send(title, found, parent) {
  const shown = found.filter(({ name }) => !name.split("/").some((part) => part.startsWith(".")));
  const id = newId();
  put({
    id,
    title: title.replace(/\.zip$/i, ""),
    files: shown.map(({ name, file }) => ({ name, size: file.size, fate: "waits", why: "" })),
    isDone: false,
    parent,
    why: shown.length ? "" : "Nothing was found in what was dropped. Drop the folder, the zip or the files themselves.",
  });
  if (shown.length === 0) return;
  try {
    await again(() => post("/api/studies", { id, title: title.replace(/\.zip$/i, ""), parent }));
    const queue = shown.map((_, n) => n);
    const lane = async () => {
      for (let n = queue.shift(); n !== undefined; n = queue.shift()) await sendFile(id, n, shown[n]);
    };
    await Promise.all(Array.from({ length: AT_ONCE }, lane));
    await again(() => ask(`/api/studies/${id}/complete`, { method: "POST" }));
    change(id, (intake) => ({ ...intake, isDone: true }));
  } catch (error) {
    change(id, (intake) => ({ ...intake, why: error instanceof Error ? error.message : String(error) }));
  }
}

/** @param {string} id @param {number} n @param {{name: string, file: File}} what */
async function sendFile(id, n, { name, file }) {
  const say = (/** @type {Sent["fate"]} */ fate, why = "") =>
    change(id, (intake) => ({
      ...intake,
      files: intake.files.map((each, k) => (k === n ? { ...each, fate, why } : each)),
    }));
  say("is sent");
  try {
    await again(() => ask(`/api/studies/${id}/files?name=${encodeURIComponent(name)}`, { method: "PUT", body: file }));
    say("received");
  } catch (error) {
    if (!(error instanceof Told)) throw error;
    say("refused", error.message);
  }
}

/** Try again while the service is away or full of work. @template T @param {() => Promise<T>} deed @returns {Promise<T>} */
async function again(deed) {
  for (let n = 1; ; n++) {
    try {
      return await deed();
    } catch (error) {
      const isFinal = error instanceof Told && error.status !== 503;
      if (isFinal || n >= TRIES) throw error;
      await new Promise((done) => setTimeout(done, 500 * 2 ** n));
    }
  }
}

/** @param {Intake} intake */
function put(intake) {
  intakes.value = [...intakes.value, intake];
}

/** @param {string} id @param {(intake: Intake) => Intake} how */
function change(id, how) {
  intakes.value = intakes.value.map((each) => (each.id === id ? how(each) : each));
}

export function forget(/** @type {string} */ id) {
  intakes.value = intakes.value.filter((each) => each.id !== id);
}
