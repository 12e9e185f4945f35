// The ladder of a valve in words, and which clip comes next: node --test tests/desk_js
import assert from "node:assert/strict";
import { test } from "node:test";

globalThis.localStorage ??= {
  getItem: () => null,
  setItem: () => {},
  removeItem: () => {},
  length: 0,
  key: () => null,
};
const { ladderWords, nextOf } = await import("../../src/fanlight/desk/static/ladders.js");
const { fanWords } = await import("../../src/fanlight/desk/static/fan.js");

test("a ladder says its rungs, and the clips that reach them", () => {
  const states = [
    ["2-D", "diagnostic"],
    ["colour", "limited"],
    ["PW", "asked for and missing"],
    ["CW", "not asked for"],
  ];
  const words = ladderWords({ valve: "mitral", states, notes: [] }, { "2-D": [1, 3], colour: [4] });
  assert.equal(words, "mitral valve: 2-D diagnostic (clips 1, 3); colour limited (clip 4); PW asked for and missing");
  const waiting = ladderWords({ valve: "mitral", states, notes: [] }, { "2-D": [1, 3], colour: [4] }, true);
  assert.equal(waiting, words.replace("PW asked for and missing", "PW nothing placed yet"));
  assert.equal(ladderWords({ valve: "aortic", states: [], notes: [] }, {}), "aortic valve: nothing asked for");
});

test("a step without clips is called missing only when no clip waits for its place", () => {
  const none = [
    ["2-D", "asked for and missing"],
    ["colour", "asked for and missing"],
    ["PW", "not asked for"],
  ];
  assert.equal(fanWords("Long axis", none), "Long axis: 2-D asked for and missing; colour asked for and missing");
  assert.equal(fanWords("Long axis", none, true), "Long axis: nothing placed yet; asked for: 2-D, colour");
  const some = [["2-D", "limited"], ...none.slice(1)];
  assert.equal(fanWords("Long axis", some, true), "Long axis: 2-D limited; colour nothing placed yet");
  assert.equal(fanWords("Long axis", [["2-D", "not asked for"]], true), "Long axis: nothing asked for");
});

test("the clips of a valve come in turn", () => {
  assert.deepEqual(
    ["x", "a", "b", "c"].map((now) => nextOf(["a", "b", "c"], now)),
    ["a", "b", "c", "a"],
  );
  assert.equal(nextOf([], "a"), "");
});
