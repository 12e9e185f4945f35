// Measurements in the order in which they are read, and what is said of each: node --test tests/desk_js
import assert from "node:assert/strict";
import { test } from "node:test";
import { stretch } from "../../src/fanlight/desk/static/interval.js";
import {
  countWords,
  limitsOf,
  meaning,
  namesWords,
  parts,
  saidAndMore,
  sinceWords,
  standing,
  togetherWords,
  told,
  valueWords,
} from "../../src/fanlight/desk/static/numbers.js";

const BLANK = { label: "", value: null, unit: "", uncertainty: null, clip: "", reason: "", validity: "", readings: [] };
const given = (/** @type {any} */ more) => ({ ...BLANK, given_by: "request sheet", ...more });
const read = (/** @type {any} */ more) => ({ ...BLANK, given_by: "engine", clip: "a.dcm", ...more });
const row = (/** @type {any} */ more) => ({ row: "r", applies: true, lower: null, upper: null, unit: "", words: "", ...more });

test("numbers stand by who gave them, then by clip or source, each in the order in which it came", () => {
  const found = parts([
    read({ label: "E", clip: "b.dcm" }),
    given({ label: "LVIDd" }),
    read({ label: "Vmax" }),
    { ...BLANK, given_by: "marked by hand in the files sent", label: "septum", clip: "b.dcm" },
    read({ label: "A", clip: "b.dcm" }),
    given({ given_by: "machine report", label: "FS" }),
  ]);
  assert.deepEqual(
    found.map((part) => [part.title, part.groups.map((group) => [group.title, group.rows.map((each) => each.label)])]),
    [
      ["given with the study", [["request sheet", ["LVIDd"]], ["machine report", ["FS"]]]],
      ["measured by the engine", [["b.dcm", ["E", "A"]], ["a.dcm", ["Vmax"]]]],
      ["marked by hand", [["b.dcm", ["septum"]]]],
    ],
  );
  assert.deepEqual(parts([]), []);
});

test("what has no number for one reason is one row, and a note is said once below those that it holds for", () => {
  const rows = told([
    read({ label: "Vmax", value: 1.1, validity: "note: not judged: the gate" }),
    read({ label: "VTI", value: 15, validity: "note: not judged: the gate" }),
    read({ label: "AT", value: 90, validity: "holds" }),
    read({ label: "E", reason: "fused" }),
    read({ label: "A", reason: "fused" }),
    read({ label: "IVRT", reason: "no outflow" }),
  ]);
  assert.deepEqual(
    rows.map(({ labels, note }) => [labels.join(" "), note]),
    [["Vmax", ""], ["VTI", "Not judged: the gate."], ["AT", ""], ["E A", ""], ["IVRT", ""]],
  );
  assert.equal(namesWords(["a", "b", "c", "d"]), "a, b, c, d");
  assert.equal(namesWords(["a", "b", "c", "d", "e"]), "a, b, c and 2 more");
});

test("a number has unit and uncertainty; a bound says so; a refused one is a dash", () => {
  assert.equal(valueWords(read({ value: 1.132, unit: "m/s", uncertainty: 0.0413 })), "1.13 ± 0.041 m/s");
  assert.equal(valueWords(read({ value: 0.5022, unit: "1", uncertainty: 0.0556 })), "0.502 ± 0.056");
  assert.equal(valueWords(given({ value: 44.1, unit: "mm" })), "44.1 mm");
  assert.equal(valueWords(read({})), "–");
  assert.equal(standing(read({ value: 1, validity: "at least: the beam crosses" })), "at least");
  assert.equal(standing(read({ value: 1, validity: "note: perhaps" })), "note below");
  assert.equal(standing(read({ value: 1, validity: "holds" })), "");
  assert.equal(standing(read({ validity: "refused: aliased" })), "");
});

test("a number lies in the intervals that apply; else the reason is told, and a bound lies in none", () => {
  const speaks = row({ lower: 1, upper: 2, unit: "m/s", kind: "reference_interval" });
  const silent = row({ applies: false, reason: "species not stated" });
  assert.deepEqual(meaning(read({ value: 1, readings: [silent, speaks] })), { said: [speaks], none: "" });
  assert.equal(meaning(read({ value: 1, reason: "mean of 3 beats", readings: [silent] })).none, "species not stated");
  assert.equal(meaning(read({ value: 1, reason: "mean of 3 beats" })).none, "");
  assert.equal(meaning(given({ value: 1 })).none, "the tables have no row for it");
  assert.equal(meaning(read({ value: 1, validity: "at most: x" })).none, "a bound lies in no interval");
  assert.deepEqual(meaning(read({ reason: "fused" })), { said: [], none: "" });
  assert.deepEqual(limitsOf(read({ value: 1, unit: "m/s" }), speaks), {
    lower: 1,
    upper: 2,
    repeat: null,
    isInterval: true,
  });
  assert.equal(limitsOf(read({ value: 1, unit: "cm/s" }), speaks), null);
  assert.deepEqual(limitsOf(given({ value: 1, unit: "" }), row({ upper: 2, unit: "1" })), {
    lower: null,
    upper: 2,
    repeat: null,
    isInterval: false,
  });
});

test("a row says its first sentence with its source; the rest is told when asked for", () => {
  assert.deepEqual(
    saidAndMore({ words: "1.5 m/s lies inside (1.0 to 2.0) [n 494, Dr. 7]. Look at the angle. Twice.", citation: "K" }),
    ["1.5 m/s lies inside (1.0 to 2.0) [n 494, Dr. 7]. [K]", "Look at the angle. Twice."],
  );
  assert.deepEqual(saidAndMore({ words: "inside [K].", citation: "K" }), ["inside [K].", ""]);
  assert.deepEqual(saidAndMore({ words: "", reason: "no row", citation: "" }), ["no row", ""]);
  const near = { words: "above 1.85. More.", citation: "", repeat_lower: 1.8, repeat_words: "It may be below." };
  assert.deepEqual(saidAndMore(near), ["above 1.85. It may be below.", "More."]);
  assert.deepEqual(saidAndMore({ ...near, repeat_lower: null }), ["above 1.85.", "More. It may be below."]);
});

test("the stretch that is drawn holds the value and its limits, with room at both ends", () => {
  for (const [value, lower, upper] of [
    [5, 1, 2],
    [1.5, 1, 2],
    [0, null, 2],
    [3, 3, null],
  ]) {
    const [low, high] = stretch(/** @type {number} */ (value), { lower, upper, repeat: [value, 7], isInterval: true });
    for (const each of [value, lower, upper, 7]) if (each !== null) assert.ok(low < each && each < high);
  }
});

test("what numbers mean together is told in sentences: remarks, then stages or why they are empty", () => {
  const meaning = {
    remarks: [
      { words: "FS and LVIDs disagree.", likely: "a digit is missing", citation: "K" },
      { words: "Larger than last time.", likely: "", citation: "" },
    ],
    gradings: [
      {
        title: "Stage", result: "B2", reason: "", citation: "C", used: ["LA:Ao 1.80"], missing: [],
        status: "from memory, confirm", caution: "A stage is no diagnosis.",
      },
      { title: "Score", result: "", reason: "no weight", citation: "" },
    ],
  };
  assert.deepEqual(togetherWords(meaning), [
    "FS and LVIDs disagree. Likely: a digit is missing. [K]",
    "Larger than last time.",
    "Stage: B2. From LA:Ao 1.80. [C, from memory, confirm] A stage is no diagnosis.",
    "Score: empty, no weight.",
  ]);
  assert.deepEqual(togetherWords(undefined), []);
});

test("the button counts what has a number", () => {
  assert.equal(countWords([]), "no measurements");
  assert.equal(countWords([read({})]), "no measurements");
  assert.equal(countWords([read({ value: 1 }), read({})]), "1 measurement");
});

test("of a number that several clips give the row says which clip goes before, and what the others gave", () => {
  const best = read({ value: 30, unit: "mm", rank: 1, beside: "of 2 clips clip 3, the one that holds best; beside it clip 1: 34.0 mm" });
  const other = read({ value: 34, unit: "mm", rank: 2, validity: "note: one", beside: "clip 3 gives this number" });
  assert.equal(standing(best), "");
  assert.equal(standing(other), "another clip gives it");
  assert.match(told([best])[0].note, /^Of 2 clips clip 3/);
  assert.equal(told([other])[0].note, "One. Clip 3 gives this number.");
});

test("what a number was at an earlier visit stands in its row, of rows that are alike in the first", () => {
  const first = { ...read({ label: "LA:Ao", value: 2.3, rank: 0 }), name: "la_ao" };
  const [alike, later] = [{ ...first }, { ...first, rank: 2 }];
  const [none, machine] = [{ ...first, value: null }, { ...first, given_by: "machine report" }];
  const change = { quantity: "la_ao", label: "LA:Ao", given_by: "engine", clip: "a.dcm" };
  const changes = [
    { ...change, words: "1 March 2026: 1.50. +0.80 since: changed.", citation: "HSUE2020" },
    { ...change, words: "9 May 2025: no number. Not compared: then refused.", citation: "" },
  ];
  const review = { measurements: [none, later, first, alike, machine], meaning: { changes } };
  assert.deepEqual(sinceWords(review, first), [
    "1 March 2026: 1.50. +0.80 since: changed [HSUE2020].",
    "9 May 2025: no number. Not compared: then refused.",
  ]);
  for (const item of [none, later, alike, machine]) assert.deepEqual(sinceWords(review, item), []);
  assert.deepEqual(sinceWords({ measurements: [first], meaning: {} }, first), []);
});
