import assert from "node:assert/strict";
import { test } from "node:test";
import { leftOutWords, noRoomWords, wordOn } from "../../src/fanlight/desk/static/changes.js";
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

test("a change more than the letter takes is not kept, and it is said which fill it", () => {
  const all = ["a", "b", "c", "d"].map((cause) => ({ cause, title: `title ${cause}`, is_stale: cause === "c" }));
  const said = all.map(({ cause }) => ({ cause, word: cause === "d" ? "thrown out" : "kept" }));
  assert.equal(noRoomWords(all, said, 3, ["d"]), "");
  assert.match(noRoomWords(all, said, 2, ["d"]), /2 changes at most, and 2 are kept: title a; title b\. Throw one/);
  assert.equal(noRoomWords(all, said, 2, ["a"]), "");
});
