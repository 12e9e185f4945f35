// The phrase bank offers what fits the view and the animal: what touches it waits for a sheet that says it breathes well.
import assert from "node:assert/strict";
import { test } from "node:test";

globalThis.location = { hash: "" };
const from = (name) => import(`../../src/fanlight/desk/static/${name}.js`);
const { fittingPhrases } = await from("added");
const { page } = await from("model");

const phrase = (key, withheld_when) => ({ key, words: `${key}.`, about: "picture", view: "", n_used: 0, withheld_when });
const PHRASES = [
  phrase("less depth", []), phrase("slide", ["laboured", "distressed"]), phrase("gel", ["not_stated", "laboured", "distressed"]),
];

/** @param {any} study */
function offered(study) {
  page.value = { id: "s", study, phrases: PHRASES, state: { marks: [], placements: {}, blind: {}, decisions: [], added: [] } };
  return fittingPhrases("", "").map((/** @type {any} */ each) => each.key);
}

test("what touches the animal is offered only when breathing is normal, what moves the probe unless it fights for air", () => {
  const when = (breathing) => offered({ clips: [], request: { breathing } });
  assert.deepEqual(when("normal"), ["less depth", "slide", "gel"]);
  assert.deepEqual(when("not_stated"), ["less depth", "slide"]);
  assert.deepEqual(when("laboured"), ["less depth"]);
  assert.deepEqual(offered(null), ["less depth", "slide"]); // nothing is known of the animal yet
});
