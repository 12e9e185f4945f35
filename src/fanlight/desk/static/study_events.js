// What the service tells of the open study, and what the desk loads again because of it.
import { waiting } from "./acts.js";
import { listenTo, seldom } from "./events.js";
import { signal } from "./html.js";
import { isNoted, note } from "./log.js";
import { catchUp, clips, loadReading, loadState, loadStudy } from "./model.js";

/** What the engine is at, in words; "" when it rests. */
export const progress = signal("");

/** Hear what the service tells of this study. @param {string} study @param {string} after */
export function hearStudy(study, after) {
  const all = seldom(() => void loadStudy(study));
  const said = seldom(() => void loadState(), 100);
  return listenTo(`/api/studies/${study}/events?after=${encodeURIComponent(after)}`, {
    hello: catchUp,
    reset: all,
    anew: all,
    assembled: all,
    ready: () => {
      progress.value = "";
      all();
    },
    failed: all,
    signed: all,
    message: all,
    "last letter": all,
    file: all,
    clip: (data) => {
      progress.value = "";
      if (clips.value.some((each) => each.key === data.clip)) void loadReading(data.clip).then(said);
      else all();
    },
    progress: (data) => {
      progress.value = `clip ${data.number}: ${data.phase}, frame ${data.frames_done} of ${data.n_frames}`;
    },
    entry: (data) => {
      // What was said here comes with its answer; one that was answered before the study was open has to be loaded.
      const isHere = isNoted(data.id) || waiting.value.some((each) => each.id === data.id);
      note(study, data);
      if (!isHere) said();
    },
  });
}
