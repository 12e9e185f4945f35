// Marks on their way: moved, scaled and followed, without a browser's picture. What a browser has is put in its place.
import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";

const held = new Map();
globalThis.localStorage = {
  getItem: (name) => held.get(name) ?? null,
  setItem: (name, text) => held.set(name, text),
  removeItem: (name) => held.delete(name),
};
globalThis.window = Object.assign(new EventTarget(), { setTimeout, clearTimeout });
globalThis.location = { hash: "" };
/** Requests that wait for an answer. */
let asked = [];
globalThis.fetch = (path, { body }) =>
  new Promise((answer) => {
    asked.push({ path, body: JSON.parse(body), answer: (said) => answer({ ok: true, text: async () => JSON.stringify(said) }) });
  });

const from = (name) => import(`../../src/fanlight/desk/static/${name}.js`);
const { waiting } = await from("acts");
const { signal } = await from("html");
const { note } = await from("log");
const { dragPoint, nudgePoint, settle } = await from("mark_points");
const { markTool, mentor, opened, page, told } = await from("model");
const { whole } = await from("readings");
const { pendingScale, sayScale, scalePoints } = await from("scale_form");
const { holdsFor, scaleFault } = await from("scale_fault");
const { keepTracks, toggleTrack, toggleTracks, tracks } = await from("tracks");

const mark = (name, more = {}) => ({ mark: name, clip: "k", frame: 3, kind: "point", points: [[10, 20]], ...more });
const open = (state = {}) => {
  page.value = { id: "s", state: { marks: [], scales: {}, strip_scales: [], ...state } };
};
const said = () => waiting.value.map(({ action, clip, payload }) => ({ action, clip, ...payload }));
const tracked = () => asked.filter((each) => each.path.endsWith("/track"));
const rest = () => new Promise((done) => setTimeout(done, 5));

beforeEach(() => {
  waiting.value = [];
  asked = [];
  tracks.value = {};
  mentor.value = "M. Linden";
  opened.value = "";
  open();
});

const key = (name) => ({ key: name, shiftKey: false, preventDefault() {}, stopPropagation() {} });
const same = (point) => point;

test("a mark that is touched within the moment in which another rests does not lose the other's move", () => {
  const moved = signal(null);
  nudgePoint(key("ArrowDown"), mark("a"), 0, same, moved);
  nudgePoint(key("ArrowRight"), mark("b"), 0, same, moved);
  assert.deepEqual(said().map((each) => [each.mark, each.points]), [["a", [[11, 20]]]]);
  nudgePoint(key("Enter"), mark("b"), 0, same, moved);
  assert.deepEqual(said().map((each) => [each.mark, each.points]), [["a", [[11, 20]]], ["b", [[10, 21]]]]);
  assert.equal(moved.value, null);
});

function grabbed(one, moved) {
  const svg = { getBoundingClientRect: () => ({ left: 0, top: 0 }), closest: () => svg };
  const event = { button: 0, currentTarget: svg, stopPropagation() {} };
  dragPoint(event, one, 0, { scale: 1, left: 0, top: 0 }, same, moved);
}
const pointer = (name, x, y) => window.dispatchEvent(Object.assign(new Event(name), { clientX: x, clientY: y }));

test("a drag that the system cancels ends there and is said", () => {
  const moved = signal(null);
  grabbed(mark("a"), moved);
  pointer("pointermove", 40, 30);
  pointer("pointercancel", 0, 0);
  pointer("pointermove", 90, 90);
  assert.deepEqual(said().map((each) => each.mark), ["a"]);
  assert.equal(moved.value, null);
});

test("a move is kept until there is a name to say it by", () => {
  const moved = signal(null);
  mentor.value = "";
  grabbed(mark("a"), moved);
  pointer("pointermove", 40, 30);
  pointer("pointerup", 40, 30);
  assert.equal(opened.value, "name");
  assert.equal(moved.value.of.mark, "a");
  mentor.value = "M. Linden";
  assert.ok(settle(moved));
  assert.deepEqual(said().map((each) => each.action), ["move mark"]);
});

test("a scale belongs to the clip on which its points were set, and waits for a name", () => {
  markTool.value = "scale";
  assert.ok(scalePoints("k", null, "scale", [[0, 0], [100, 0]], 4));
  assert.equal(opened.value, "scale");
  mentor.value = "";
  Object.assign(pendingScale, { amount: 2 });
  sayScale();
  assert.deepEqual(said(), []);
  mentor.value = "M. Linden";
  sayScale();
  sayScale(); // once only
  const distance = { start: [0, 0], end: [100, 0], distance_mm: 20 };
  assert.deepEqual(said(), [{ action: "set scale", clip: "k", frame: 4, distance }]);
});

const sector = { kind: "sector", apex_row_px: 20, apex_col_px: 320, left_deg: -40, right_deg: 40, near_px: 0, far_px: 230 };
const fan = { rows: 600, cols: 640, scale: null, regions: [], picture: sector };
const none = { depth: null, axes: [] };

test("points of a scale that tell nothing where they lie are refused with words", () => {
  assert.equal(scaleFault("time", [[500, 10], [500, 90]], fan, none), "");
  assert.match(scaleFault("time", [[100, 300], [100, 380]], fan, none), /lie on or across the picture/);
  assert.match(scaleFault("baseline", [[100, 300]], fan, none), /lie on or across the picture/);
  const before = { depth: null, axes: [{ axis: "time", start: [500, 10], end: [500, 90], amount: 100 }] };
  assert.equal(scaleFault("velocity", [[400, 10], [500, 10]], fan, before), "");
  assert.match(scaleFault("velocity", [[100, 600], [150, 600]], fan, before), /same side as what was marked before/);
  assert.match(scaleFault("scale", [[100, 300], [500, 300]], fan, before), /two parts of the screen/);
  assert.equal(scaleFault("scale", [[100, 300], [200, 300]], fan, before), "");
  assert.match(scaleFault("scale", [[400, 10], [400, 90]], fan, before), /2 pixels apart from top to bottom/);
  assert.match(scaleFault("velocity", [[400, 10], [401, 90]], fan, none), /2 pixels apart from top to bottom/);
  const spectrum = { depth: null, axes: [{ axis: "velocity", start: [400, 10], end: [500, 90], amount: 100 }] };
  assert.match(scaleFault("scale", [[400, 10], [500, 10]], fan, spectrum), /spectrum has no depth/);
});

test("where no picture is known, a strip's scale says that it holds for the whole screen", () => {
  assert.match(holdsFor("time", { ...fan, picture: null }), /holds for all of it/);
  assert.equal(holdsFor("time", fan), "");
  assert.equal(scaleFault("time", [[100, 300], [100, 380]], { ...fan, picture: null }, none), "");
  open();
  assert.ok(scalePoints("k", { ...fan, picture: null }, "baseline", [[100, 300]], 0));
  assert.match(told.value, /holds for all of it/);
  assert.deepEqual(said().map((each) => each.action), ["set strip scale"]);
  assert.ok(scalePoints("k", fan, "baseline", [[100, 300]], 0));
  assert.match(told.value, /across the picture/);
  assert.equal(said().length, 1);
});

const track = { first: 0, points: [[[10, 20]]], errors: [1], unit: "px", drift: null, curves: [], stopped: [] };

test("marks are followed one after another, and one put off meanwhile is not asked for", async () => {
  open({ marks: [mark("a"), mark("b"), mark("c")] });
  toggleTracks("k");
  await rest();
  assert.equal(tracked().length, 1);
  toggleTrack(mark("b")); // no more
  tracked()[0].answer(track);
  await rest();
  assert.equal(tracked().length, 2);
  tracked()[1].answer(track);
  await rest();
  assert.equal(tracked().length, 2);
  assert.deepEqual(Object.keys(tracks.value), ["a", "c"]);
  assert.equal(tracks.value.c.trouble, "");
  assert.ok(tracks.value.c.track);
});

test("a track is made anew when a scale is taken back, though the reading still holds its millimetres", async () => {
  const scale = { mm_per_row_px: 0.4, mm_per_col_px: 0.4, source: "two points marked by the user" };
  const layout = { rows: 100, cols: 100, picture: null, regions: [], scale };
  whole.value = new Map([["k", { layout }]]);
  note("S", { id: "e", clip: "k", author: "M. Linden", action: "set scale", undoes: "" });
  const marks = [mark("a", { kind: "line", points: [[0, 0], [30, 40]] })];
  open({ marks, scales: { k: { distance: { start: [0, 0], end: [50, 0], distance_mm: 20 } } } });
  toggleTrack(marks[0]);
  await rest();
  tracked()[0].answer({ ...track, unit: "mm" });
  await rest();
  keepTracks();
  await rest();
  assert.equal(tracked().length, 1); // nothing changed
  open({ marks });
  keepTracks();
  await rest();
  assert.equal(tracked().length, 2);
  tracked()[1].answer(track);
  await rest();
  assert.equal(tracks.value.a.track.unit, "px");
});
