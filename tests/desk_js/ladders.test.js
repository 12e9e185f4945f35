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
const { givesWords, ladderWords, missingBecause, nextOf } = await import("../../src/fanlight/desk/static/ladders.js");
const { nextValve } = await import("../../src/fanlight/desk/static/placing.js");
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

test("a missing rung says where the plan asks for it, and whether clips wait", () => {
  assert.equal(missingBecause(["Long axis"], 0), "the plan asks for it in “Long axis”, and no clip of it is stored");
  assert.equal(
    missingBecause(["Long axis", "Apical"], 2),
    "the plan asks for it in “Long axis” and “Apical”; no clip of it is placed yet, and 2 wait for their place",
  );
  assert.equal(missingBecause([], 1), "it is asked for; no clip of it is placed yet, and one waits for its place");
});

test("a clip says which rung it gives, at which valves, and which clip shows it better", () => {
  const rungs = { mitral: { "2-D": ["a"], colour: ["b", "c"] }, tricuspid: { "2-D": ["a"], colour: ["c"] } };
  const number = (/** @type {string} */ key) => ({ a: "1", b: "2", c: "3" })[key] ?? "";
  assert.equal(givesWords(rungs, "a", number, false), "2-D at the mitral and tricuspid valves");
  assert.equal(givesWords(rungs, "b", number, false), "colour at the mitral valve");
  assert.equal(
    givesWords(rungs, "c", number, false),
    "colour at the mitral and tricuspid valves, as long as nobody says which",
  );
  assert.equal(
    givesWords({ mitral: { colour: ["b", "c"] } }, "c", number, true),
    "colour at the mitral valve; clip 2 shows it better",
  );
  assert.equal(givesWords(rungs, "x", number, false), "");
});

test("the letter of a step, pressed again, says the next valve", () => {
  assert.deepEqual(
    [null, "mitral", "tricuspid", "aortic"].map((now) => nextValve(["mitral", "tricuspid"], now)),
    ["mitral", "tricuspid", "mitral", "mitral"],
  );
  assert.equal(nextValve([], null), null);
});
