// What stages wait for: each change says all of it, and a sign has one word.
import assert from "node:assert/strict";
import { test } from "node:test";

globalThis.location = { hash: "" };
const { lesionsFor, saidWith, signsWith, waitsWords, wordOnSign } = await import(
  "../../src/fanlight/desk/static/named_form.js"
);

const NAMED = { by: "M.", lesions: ["a"], failure: "none", treatment: "", signs: ["s"], signs_absent: ["t"] };

test("a change is said with all the rest, and without who said it", () => {
  assert.deepEqual(saidWith(NAMED, { treatment: "none" }), {
    lesions: ["a"], failure: "none", treatment: "none", signs: ["s"], signs_absent: ["t"],
  });
});

test("a sign is seen, not there, or not said, and never two of them", () => {
  assert.deepEqual(["s", "t", "u"].map((each) => wordOnSign(NAMED, each)), ["seen", "not there", "not said"]);
  assert.deepEqual(signsWith(NAMED, "s", "not there"), { signs: [], signs_absent: ["t", "s"] });
  assert.deepEqual(signsWith(NAMED, "t", "not said"), { signs: ["s"], signs_absent: [] });
});

test("what is missing is named, and nothing when all is said", () => {
  assert.equal(waitsWords(NAMED), "Stages and scores stay empty until you name: treatment.");
  assert.equal(waitsWords({ ...NAMED, treatment: "none" }), "");
});

test("lesions of the animal are offered, graded ones first; one that is named is always shown", () => {
  const all = {
    b: { title: "b", species: ["dog"], gradings: [] },
    a: { title: "a", species: ["dog", "cat"], gradings: ["stage"] },
    c: { title: "c", species: ["cat"], gradings: ["stage"] },
  };
  assert.deepEqual(lesionsFor(all, "dog", []).map(([key]) => key), ["a", "b"]);
  assert.deepEqual(lesionsFor(all, "dog", ["c"]).map(([key]) => key), ["a", "c", "b"]);
  assert.deepEqual(lesionsFor(all, null, []).length, 3);
});
