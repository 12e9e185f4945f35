// What is said of causes before proposals are shown: ticks, and how they are told. Their promises are their names.
import assert from "node:assert/strict";
import test from "node:test";
import { byLevel, saidOf, saidWords, ticked } from "../../src/fanlight/desk/static/causes_first.js";

test("a cause stands in one place only, and a second tick takes it away", () => {
  const once = ticked({}, "gain_low", "through");
  assert.deepEqual(saidOf(once), { through: ["gain_low"], some: [] });
  assert.deepEqual(saidOf(ticked(once, "gain_low", "some")), { through: [], some: ["gain_low"] });
  assert.deepEqual(saidOf(ticked(once, "gain_low", "through")), { through: [], some: [] });
  assert.deepEqual(once, { gain_low: "through" });
});

test("causes stand below the place where they are mended, in the order in which they came", () => {
  const asked = [
    { cause: "a", title: "a", when: "", level: "console" },
    { cause: "b", title: "b", when: "", level: "hand" },
    { cause: "c", title: "c", when: "", level: "console" },
  ];
  assert.deepEqual(
    byLevel(asked).map(([heading, rows]) => [heading, rows.map((each) => each.cause)]),
    [
      ["at the console", ["a", "c"]],
      ["at the probe", ["b"]],
    ],
  );
});

test("that no cause acts is told as a word of its own", () => {
  const by = { author: "M. Linden", at: "2026-12-01T10:00:00Z" };
  assert.equal(saidWords({ ...by, through: [], some: [] }), "No cause acts.");
  assert.equal(
    saidWords({ ...by, through: [{ title: "depth too large" }], some: [{ title: "ribs in the way" }] }),
    "Depth too large (runs through); ribs in the way (single clips).",
  );
});
