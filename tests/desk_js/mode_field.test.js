// What the page says of a clip's mode: whether it waits for a person, or for the engine.
import assert from "node:assert/strict";
import { test } from "node:test";
import { modeHint } from "../../src/fanlight/desk/static/mode_field.js";

const read = (/** @type {string | null} */ mode) => ({ mode: { mode } });

test("a clip whose mode nothing tells asks for its name, and says what waits for it", () => {
  assert.match(modeHint("", read(null), false), /Name it: until then the clip is neither measured nor judged/);
});

test("what is named waits for the engine until the clip was read as that", () => {
  assert.equal(modeHint("pulsed_wave", read(null), true), "It is read again as that.");
  assert.equal(modeHint("pulsed_wave", read("continuous_wave"), true), "It is read again as that.");
  assert.equal(modeHint("pulsed_wave", read("pulsed_wave"), true), "");
});

test("what is named and was not read as that says so once the engine rests", () => {
  assert.match(modeHint("pulsed_wave", read("continuous_wave"), false), /could not be read as that/);
  assert.equal(modeHint("pulsed_wave", read("pulsed_wave"), false), "");
});

test("a mode that is told asks for nothing, nor does a clip that was not read yet", () => {
  assert.equal(modeHint("", read("two_d"), false), "");
  assert.equal(modeHint("", null, true), "");
});
