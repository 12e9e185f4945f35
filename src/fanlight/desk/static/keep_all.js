// Enter: keep everything that is proposed for the clip on the stage, once it can be seen, and go on.
import { isAway } from "./acts.js";
import { effect, signal, untracked } from "./html.js";
import {
  choose,
  clipKey,
  clips,
  findings,
  hidden,
  isOnItsWay,
  isUnread,
  isWhole,
  needsDecision,
  readingOf,
  sayAll,
  titleOf,
  told,
  viewOf,
} from "./model.js";
import { isBeingPlaced } from "./placing.js";
import { confirming } from "./proposals.js";
import { count } from "./words.js";

/** The clip of which everything was to be kept while what is found in its view was on its way. */
const waitsFor = signal("");
effect(() => {
  const key = waitsFor.value;
  if (!key || isBeingPlaced(key)) return;
  untracked(() => {
    waitsFor.value = "";
    if (clipKey.value !== key) return; // somebody went on: it is not kept unseen
    if (isAway.value || viewOf(key).said !== "mentor") told.value = "Nothing was kept yet: Enter keeps what is shown.";
    else keepAll();
  });
});

/** Keep what is proposed and go to the next clip that needs somebody. */
export function keepAll() {
  const key = clipKey.value;
  if (hidden.value.has(key)) {
    told.value = "Judge this clip first: + diagnostic, - non-diagnostic, or in the form.";
    return;
  }
  if (isOnItsWay(key)) {
    told.value = "The proposals for this clip are on their way; then Enter keeps them.";
    return;
  }
  if (readingOf(key) && !isWhole.value) {
    told.value = "The findings of this clip are on their way; then Enter keeps them.";
    return;
  }
  if (isBeingPlaced(key)) {
    told.value = "What is found in this view is on its way; then it is kept.";
    waitsFor.value = key;
    return;
  }
  if (!readingOf(key)) {
    told.value = "This clip is not read yet: there is nothing to keep.";
    return;
  }
  const open = findings.value.filter((each) => !each.decision).map((each) => each.criterion);
  const { view, said } = viewOf(key);
  const isConfirmed = said === "engine";
  const acts = [
    ...(isConfirmed ? [confirming(key)] : []),
    ...(open.length ? [{ action: "accept findings", payload: { clip: key, criteria: open } }] : []),
  ];
  if (acts.length && !sayAll(acts)) return;
  const all = clips.value;
  const at = all.findIndex((each) => each.key === key);
  const order = [...all.slice(at + 1), ...all.slice(0, at)];
  const left = order.filter((each) => needsDecision(each.key));
  const next = left.find((each) => !isUnread(each.key));
  const then = left.length ? "The other clips are not read yet." : "Every clip is decided: F8 opens the letters.";
  const did = [
    isConfirmed ? `Confirmed: ${titleOf(view)}.` : "",
    open.length ? `Kept ${count(open.length, "finding")}.` : "",
  ];
  const words = did.filter(Boolean).join(" ") || "Nothing was open here.";
  told.value = `${words} ${next ? `Clip ${next.number} is next.` : then}`;
  if (next) choose(next.key);
}
