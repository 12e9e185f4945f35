// What is said of causes before proposals are shown: ticks, and how they are told. Their promises are their names.
import assert from "node:assert/strict";
import test from "node:test";
import {
  byLevel,
  isOtherwise,
  saidOf,
  saidWords,
  seenIn,
  stillAsked,
  ticked,
  whyNotAsked,
} from "../../src/fanlight/desk/static/causes_first.js";

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

const SAID = {
  author: "M. Linden",
  at: "2026-12-01T10:00:00Z",
  through: [{ cause: "depth_large", title: "depth too large" }],
  some: [{ cause: "gain_low", title: "gain too low" }],
};

test("after a reload the form stands as it was said", () => {
  assert.deepEqual(seenIn(SAID), { depth_large: "through", gain_low: "some" });
  assert.deepEqual(saidOf(seenIn(SAID)), { through: ["depth_large"], some: ["gain_low"] });
  assert.deepEqual(seenIn(null), {});
});

test("a tick whose cause left the list is not said", () => {
  const asked = [{ cause: "gain_low", title: "gain too low", when: "", level: "console" }];
  assert.deepEqual(stillAsked({ gain_low: "some", colour_box_large: "through" }, asked), { gain_low: "some" });
  assert.deepEqual(stillAsked({ gain_low: "some" }, []), {});
});

test("ticks are otherwise than what was said by one more, one less, or another place", () => {
  const said = seenIn(SAID);
  assert.equal(isOtherwise(seenIn(SAID), said), false);
  assert.equal(isOtherwise({}, {}), false);
  assert.equal(isOtherwise({ ...said, ribs: "some" }, said), true);
  assert.equal(isOtherwise({ gain_low: "some" }, said), true);
  assert.equal(isOtherwise({ ...said, gain_low: "through" }, said), true);
  assert.equal(isOtherwise({ depth_large: "through", ribs: "some" }, said), true);
});

test("clips that were read and have no mode are not waited for", () => {
  assert.match(whyNotAsked({ isIdle: false, nRead: 2, nAsked: 9 }), /still being read/);
  assert.match(whyNotAsked({ isIdle: true, nRead: 2, nAsked: 0 }), /No mode is known.*name the mode of a clip/);
  assert.match(whyNotAsked({ isIdle: true, nRead: 0, nAsked: 0 }), /None of its clips could be read/);
  assert.equal(whyNotAsked({ isIdle: true, nRead: 2, nAsked: 9 }), "");
});
