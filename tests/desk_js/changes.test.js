import assert from "node:assert/strict";
import { test } from "node:test";
import { leftOutWords, wordOn } from "../../src/fanlight/desk/static/changes.js";
import { fold } from "../../src/fanlight/desk/static/fold.js";

const act = (cause, word) => ({ action: "judge change", payload: { cause, word } });

test("the newest word on a cause holds, and one that is taken away is none", () => {
  const state = fold({}, [act("depth", "kept"), act("gain", "kept"), act("depth", "thrown out"), act("gain", "not said")]);
  assert.equal(wordOn(state.changes, "depth"), "thrown out");
  assert.equal(wordOn(state.changes, "gain"), "not said");
});

test("what the letter does without is said, and what nothing points to any more is not counted", () => {
  const all = [{ cause: "a" }, { cause: "b" }, { cause: "c", is_stale: true }];
  assert.equal(leftOutWords(all, []), "2 changes not decided: the letter is silent on them.");
  assert.equal(leftOutWords(all, [{ cause: "a", word: "kept" }]), "1 change not decided: the letter is silent on it.");
  assert.equal(leftOutWords(all, [{ cause: "a", word: "kept" }, { cause: "b", word: "thrown out" }]), "");
});
