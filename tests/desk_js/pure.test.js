// What draws nothing, checked without a browser: node --test tests/desk_js
import assert from "node:assert/strict";
import { test } from "node:test";

const from = (name) => import(`../../src/fanlight/desk/static/${name}.js`);
const { beatAround, beatStarts, beatStep, frameAt, frameTimes, lasts } = await from("beats");
const { beatMarks, msAt, phaseAt, samePhase } = await from("phase");
const { fold } = await from("fold");
const { fitting, greyFilter, lay, resized, toPicture, toScreen } = await from("view");
const { upcoming } = await from("ring");
const { findingValue, number, target } = await from("words");

test("a frame stands until the next one's time", () => {
  const times = [0, 40, 100];
  assert.deepEqual([0, 39, 40, 99, 100, 500].map((t) => frameAt(times, t)), [0, 0, 1, 1, 2, 2]);
  assert.equal(lasts(times), 160);
});

test("times that the file does not state are assumed, and said to be", () => {
  const clip = { n_frames: 4, times: { times_ms: [] } };
  assert.equal(frameTimes(clip, null).isTrue, false);
  assert.deepEqual(frameTimes({ n_frames: 2, times: { times_ms: [5, 25] } }, null), { times: [0, 20], isTrue: true });
});

test("beats come from R waves, else from the period", () => {
  const time = { r_frames: [3.4, 20.6, 37], beat_period_frames: 17, end_diastole_frames: [] };
  const starts = beatStarts({ time }, 40);
  assert.deepEqual(starts, [3, 21, 37]);
  assert.deepEqual(beatAround(starts, 25), { first: 21, last: 36 });
  assert.deepEqual(beatAround(starts, 1), { first: 3, last: 20 });
  assert.equal(beatStep(starts, 21, 1), 37);
  assert.equal(beatStep(starts, 21, -1), 3);
  assert.deepEqual(beatStarts({ time: { ...time, r_frames: [], end_diastole_frames: [19] } }, 40), [2, 19, 36]);
  assert.equal(beatAround([5], 5), null);
});

test("words of evidence do not stand on each other, and the same word near by is said once", async () => {
  const { labels } = await from("overlay");
  const line = (label, ...points) => ({ label, shape: { kind: "polyline", closed: false, points } });
  const laid = { scale: 1, left: 0, top: 0 };
  const same = [line("edge", [10, 100], [200, 100]), line("edge", [10, 104], [200, 104])];
  const other = line("end", [10, 110], [198, 110]);
  const found = labels(laid, [...same, other, line("", [0, 0], [1, 1]), line("edge", [10, 300], [200, 300])]);
  assert.deepEqual(found.map((each) => each.label), ["edge", "end", "edge"]);
  assert.ok(found[1].y - found[0].y >= 14);
});

test("two clips of other rate and other heart rate are held R wave to R wave", () => {
  const evenly = (n, ms) => Array.from({ length: n }, (_, k) => k * ms);
  const slow = { times: evenly(100, 20), marks: beatMarks({ time: { r_frames: [10, 40, 80] } }, evenly(100, 20)) };
  const fast = { times: evenly(60, 33), marks: beatMarks({ time: { r_frames: [5.5, 15.5, 25.5, 35.5] } }, evenly(60, 33)) };
  assert.deepEqual(slow.marks, [200, 800, 1600]);
  assert.deepEqual(phaseAt(slow.marks, 500), { beat: 0, phase: 0.5 });
  assert.deepEqual(phaseAt(slow.marks, 1600), { beat: 2, phase: 0 }); // the next beat begins
  assert.deepEqual(phaseAt(slow.marks, 50), { beat: -1, phase: 0.75 }); // before the first, as long as the first
  assert.equal(msAt(fast.marks, 3, 0), msAt(fast.marks, 0, 0)); // a beat it does not have: from its start again
  for (let frame = 0; frame < 100; frame++) {
    const { phase } = phaseAt(slow.marks, slow.times[frame]);
    const other = phaseAt(fast.marks, fast.times[samePhase(slow, fast, frame)]).phase;
    const off = Math.abs(phase - other);
    assert.ok(Math.min(off, 1 - off) <= 0.05 + 1e-9, `frame ${frame}: ${phase} and ${other}`); // half a frame of ten a beat
  }
});

test("without two R waves beats come from the period; without one there is nothing to hold on to", () => {
  const times = Array.from({ length: 40 }, (_, k) => 10 * k);
  const time = { r_frames: [3.4], beat_period_frames: 17, end_diastole_frames: [19] };
  assert.deepEqual(beatMarks({ time }, times), [20, 190, 360]);
  assert.deepEqual(beatMarks({ time: { r_frames: [], beat_period_frames: null, end_diastole_frames: [] } }, times), []);
  assert.deepEqual(beatMarks(null, times), []);
});

test("a picture is enlarged by whole multiples and comes back to the point it came from", () => {
  assert.equal(fitting(1000, 700, 320, 240), 2);
  assert.equal(fitting(400, 300, 800, 600), 0.5);
  const view = { zoom: 0, panX: 0, panY: 0, low: 0, high: 1 };
  assert.equal(resized(view, 0.7, 1).zoom, 1);
  assert.equal(resized(resized(view, 2, 1), 2, -1).zoom, 0);
  const laid = lay(view, { width: 1000, height: 700 }, { rows: 240, cols: 320 }, 1);
  assert.deepEqual(toPicture(laid, ...toScreen(laid, [17.25, 99.5])), [17.25, 99.5]);
});

/** CSS Filter Effects, 6: each step is linear and clips to 0 and 1. */
function filtered(filter, v) {
  const clip = (x) => Math.min(1, Math.max(0, x));
  return [...filter.matchAll(/(brightness|contrast)\(([^)]+)\)/g)].reduce(
    (x, [, name, amount]) => clip(name === "brightness" ? x * amount : (x - 0.5) * amount + 0.5),
    v,
  );
}

test("the window of grey is the straight line it says, wherever it lies", () => {
  for (const [low, high] of [[0.2, 0.6], [-0.4, 0.6], [0.3, 1.3], [-0.5, 1.5], [0, 0.5], [-0.2, 1]]) {
    for (let v = 0; v <= 1; v += 0.05) {
      const wanted = Math.min(1, Math.max(0, (v - low) / (high - low)));
      assert.ok(Math.abs(filtered(greyFilter({ low, high }), v) - wanted) < 1e-9, `${low} to ${high} at ${v}`);
    }
  }
});

test("frames ahead of the playhead are wanted first, around the end of the loop", () => {
  assert.deepEqual(upcoming(8, 5, 9, 4), [8, 9, 5, 6]);
  assert.deepEqual(upcoming(0, 0, 2, 10), [0, 1, 2]);
});

test("what was just said shows at once, and the newest word counts", () => {
  const act = (action, payload) => ({ id: "x", study: "s", path: "", body: {}, action, clip: payload.clip ?? "", payload });
  const state = fold(undefined, [
    act("place clip", { clip: "k", view: "v", valve: null }),
    act("accept findings", { clip: "k", criteria: ["a", "b"] }),
    act("overrule finding", { clip: "k", criterion: "b", verdict: "met", reason: "seen" }),
    act("tick item", { clip: "k", requirement: "must show", item: "i", is_shown: true }),
    act("tick item", { clip: "k", requirement: "must show", item: "i", is_shown: null }),
    act("draw mark", { mark: "m", clip: "k", frame: 1, kind: "point", points: [[1, 2]] }),
    act("move mark", { mark: "m", clip: "k", frame: 1, points: [[3, 4]] }),
  ]);
  assert.equal(state.placements.k.view, "v");
  assert.deepEqual(state.decisions.map((each) => [each.criterion, each.action]), [["a", "accept finding"], ["b", "overrule finding"]]);
  assert.deepEqual(state.ticks, []);
  assert.deepEqual(state.marks[0].points, [[3, 4]]);
});

test("numbers are said as the letters say them", () => {
  assert.equal(number(0.0923, "fraction"), "9.2 %");
  assert.equal(number(0.52, "fraction"), "52 %");
  assert.equal(number(1, "yes/no"), "yes");
  assert.equal(number(1, "beats"), "1 beat");
  assert.equal(target({ met_low: 3, met_high: null, border_low: 1, border_high: null }, "beats"), "at least 3 beats");
  assert.equal(findingValue({ value: 0.5, unit: "fraction", uncertainty: 0.076 }), "50 ± 7.6 %");
});

test("the page of documentation has the table of keys that the program obeys", async () => {
  const { readFileSync } = await import("node:fs");
  const { KEYS } = await from("keys");
  const page = readFileSync(new URL("../../docs/desk.md", import.meta.url), "utf8");
  const rows = page.split("## Keys")[1].split("\n## ")[0].match(/^\| (?!key |---).*\|$/gm);
  assert.deepEqual(rows, KEYS.map((row) => `| ${row.shown.join(" or ")} | ${row.words} |`));
});

test("keys move the time line as the slider pattern of the ARIA Authoring Practices Guide says", async () => {
  const { stepped } = await from("timeline");
  const to = (key, now = 20, more = {}) => stepped({ key, ...more }, now, 50);
  assert.deepEqual(["ArrowRight", "ArrowUp", "ArrowLeft", "ArrowDown"].map((key) => to(key)), [21, 21, 19, 19]);
  assert.deepEqual(["PageUp", "PageDown", "Home", "End"].map((key) => to(key)), [25, 15, 0, 49]);
  assert.deepEqual([to("ArrowLeft", 0), to("ArrowRight", 49)], [0, 49]);
  assert.deepEqual([to(" "), to("Enter"), to("a"), to("ArrowRight", 20, { shiftKey: true })], [null, null, null, null]);
});

test("an exercise is one once it is whole", async () => {
  const { exerciseIn } = await from("exercise");
  const typed = { view: "v", look_for: " the atrium ", repetitions: "0", due: "" };
  assert.deepEqual(exerciseIn(typed), { view: "v", look_for: "the atrium", repetitions: 1, due: null });
  assert.equal(exerciseIn({ ...typed, view: "" }), null);
  assert.equal(exerciseIn({ ...typed, look_for: " " }), null);
});
