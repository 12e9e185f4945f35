// Taking back and putting back: what one key did, one key takes back.
import { actAgainst } from "./acts.js";
import { meant, mentor, page, told } from "./model.js";
import { isWith, join } from "./together.js";

/** Take back what was done last, or put it back; all of what was done with one key. */
export function takeBack(/** @type {"undo" | "redo"} */ which) {
  if (!page.value || !mentor.value.trim()) return;
  let entry = meant.value[which];
  if (!entry) told.value = which === "undo" ? "Nothing is left to take back." : "Nothing is left to put back.";
  while (entry) {
    const done = entry;
    join(actAgainst(page.value.id, mentor.value.trim(), which, done), done);
    entry = isWith(done, meant.value[which]) ? meant.value[which] : "";
  }
}
