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

test("a ladder says its rungs, and the clips that reach them", () => {
  const states = [
    ["2-D", "diagnostic"],
    ["colour", "limited"],
    ["PW", "asked for and missing"],
    ["CW", "not asked for"],
  ];
  const words = ladderWords({ valve: "mitral", states, notes: [] }, { "2-D": [1, 3], colour: [4] });
  assert.equal(words, "mitral valve: 2-D diagnostic (clips 1, 3); colour limited (clip 4); PW asked for and missing");
  assert.equal(ladderWords({ valve: "aortic", states: [], notes: [] }, {}), "aortic valve: nothing asked for");
});

test("the clips of a valve come in turn", () => {
  assert.deepEqual(
    ["x", "a", "b", "c"].map((now) => nextOf(["a", "b", "c"], now)),
    ["a", "b", "c", "a"],
  );
  assert.equal(nextOf([], "a"), "");
});
