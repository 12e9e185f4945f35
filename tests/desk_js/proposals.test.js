// Proposals from the pixels: confirmed at once, taken back at once, and never shown where a clip is judged blind.
import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";

globalThis.location = { hash: "" };
globalThis.fetch = () => new Promise(() => {}); // what is said stays on its way
const from = (name) => import(`../../src/fanlight/desk/static/${name}.js`);
const { isAway, waiting } = await from("acts");
const { fold } = await from("fold");
const { areShown, elsewhereWords, foundOf, foundOn, foundWords, framesOf, keepAllFound, keepFound, toggleFound } = await from("found");
const { batch } = await from("html");
const { keepAll } = await from("keep_all");
const { choose, findingsOf, mentor, meant, needsDecision, page, state, told, viewOf } = await from("model");
const { placeIn, valveShown } = await from("placing");
const { candidates, confirmAll, proposed, shareOfNone } = await from("proposals");
const { whole } = await from("readings");
const { takeBack } = await from("take_back");
const { percent } = await from("words");

const RECOGNISED = "recognised from the pixels";
const SHARES = [{ view: "long", probability: 0.93 }, { view: "", probability: 0.04 }, { view: "short", probability: 0.03 }];
const UNSURE = [{ view: "short", probability: 0.5 }, { view: "", probability: 0.3 }, { view: "long", probability: 0.2 }];
const landmark = (name, more = {}) => ({ landmark: name, frame: 2, point: [10, 20], spread_px: 3, probability: 0.9, ...more });

/** @param {string} key */
function reading(key, view, views, landmarks = []) {
  const said = view ? { view, source: RECOGNISED, probability: views[0].probability } : { view: "", source: "not known" };
  return { clip: { key, number: Number(key.slice(1)) }, mode: { mode: "two_d" }, view: said, findings: [], picture: { views, landmarks } };
}

/** Three clips: two proposed, one not sure. */
function open(more = {}) {
  const found = [landmark("LV_APEX"), landmark("LA_CENTRE", { probability: 0.5 }), landmark("RA_CENTRE"), landmark("LV_APEX", { frame: 7 })];
  const readings = [reading("k1", "long", SHARES, found), reading("k2", "long", SHARES), reading("k3", "", UNSURE)];
  whole.value = new Map(readings.map((each) => [each.clip.key, each]));
  page.value = {
    id: "s", engine: { state: "idle" }, blind: [], readings, state: { marks: [], placements: {}, blind: {}, decisions: [] },
    study: { clips: readings.map((each) => ({ ...each.clip, n_frames: 9 })) },
    plan: { steps: [{ view: "long", letter: "a", title: "Long", must_show: [] }], views: { long: { title: "Long", valves: [] }, short: { title: "Short", valves: [] } } },
    words: { landmark_from: 0.6 }, review: { views: {}, coverage: { steps: [] } }, ...more,
  };
  choose("k1");
}

beforeEach(() => {
  waiting.value = [];
  areShown.value = false;
  mentor.value = "M. Linden";
  told.value = "";
  open();
});

const said = () => waiting.value.map((each) => [each.action, each.clip]);

test("a proposed view lies in its step and still waits for a word", () => {
  assert.deepEqual(viewOf("k1"), { view: "long", said: "engine", share: 0.93 });
  assert.deepEqual(findingsOf("k1"), []);
  assert.deepEqual(["k1", "k2", "k3"].map(needsDecision), [true, true, true]);
});

test("one key confirms all, one takes all of it back, one puts all of it back", () => {
  confirmAll();
  assert.deepEqual(said(), [["place clip", "k1"], ["place clip", "k2"]]);
  assert.equal(told.value, "2 proposed views confirmed. 1 clip without a view. Backspace takes all of them back.");
  assert.deepEqual(waiting.value[0].payload, { clip: "k1", view: "long", valve: null });
  assert.deepEqual([viewOf("k1").said, needsDecision("k1"), needsDecision("k3")], ["mentor", false, true]);
  takeBack("undo");
  assert.deepEqual([state.value.placements, viewOf("k1").said], [{}, "engine"]);
  assert.equal(meant.value.undo, "");
  takeBack("redo");
  assert.deepEqual(Object.keys(state.value.placements), ["k1", "k2"]);
  takeBack("undo");
  assert.deepEqual(state.value.placements, {});
});

test("what was said on its own before is not taken back with the rest", () => {
  choose("k3");
  keepAll(); // nothing is proposed there: nothing is said
  assert.deepEqual(said(), []);
  choose("k1");
  keepAll();
  assert.deepEqual(said(), [["place clip", "k1"]]);
  confirmAll();
  assert.deepEqual(said().slice(1), [["place clip", "k2"]]);
  takeBack("undo");
  assert.deepEqual(Object.keys(state.value.placements), ["k1"]);
});

test("Enter on a proposal is one act: view and findings are taken back together", () => {
  const open = { criterion: "overall_gain", verdict: "missed" };
  whole.value = new Map(whole.value).set("k1", { ...whole.value.get("k1"), findings: [open] });
  keepAll();
  assert.deepEqual(said(), [["place clip", "k1"], ["accept findings", "k1"]]);
  assert.equal(needsDecision("k1"), false);
  takeBack("undo");
  assert.deepEqual([viewOf("k1").said, findingsOf("k1")[0].decision, meant.value.undo], ["engine", null, ""]);
  takeBack("redo");
  assert.deepEqual([viewOf("k1").said, needsDecision("k1")], ["mentor", false]);
});

const LONG = { view: "long", letter: "a", title: "Long" };
/** The service has written down all that waits. */
const answered = () => batch(() => {
  page.value = { ...page.value, state: state.value };
  waiting.value = [];
});

test("a clip in another view is kept once, with what is told of it there", () => {
  choose("k3");
  placeIn("k3", LONG);
  const before = said();
  keepAll();
  assert.equal(told.value, "What is found in this view is on its way; then it is kept.");
  assert.deepEqual(said(), before);
  page.value = { ...page.value, told_anew: { k3: [{ criterion: "plane_level", verdict: "missed" }] } };
  answered();
  assert.deepEqual(said(), [["accept findings", "k3"]]);
  assert.deepEqual(waiting.value[0].payload.criteria, ["plane_level"]);
  assert.match(told.value, /^Kept 1 finding\. Clip 1 is next/);
});

test("what is on its way is not kept of a clip that was left, nor without the service", () => {
  choose("k3");
  placeIn("k3", LONG);
  keepAll();
  choose("k1");
  answered();
  assert.deepEqual(said(), []);
  open();
  choose("k3");
  placeIn("k3", LONG);
  keepAll();
  isAway.value = true;
  assert.equal(told.value, "Nothing was kept yet: Enter keeps what is shown.");
  keepAll();
  assert.match(told.value, /Clip 1 is next/);
  isAway.value = false;
});

test("clips that are to be judged first show no proposal and are left out", () => {
  open({ blind: ["k1"] });
  assert.deepEqual([proposed().map((each) => each.key), candidates("k1"), foundOf("k1")], [["k2"], [], []]);
  confirmAll();
  assert.deepEqual(said(), [["place clip", "k2"]]);
  assert.match(told.value, /1 clip to be judged first, left out\./);
});

test("a clip that is not sure names its likeliest views, and how likely it is none", () => {
  assert.deepEqual(candidates("k3").map((each) => each.view), ["short", "long"]);
  assert.equal(shareOfNone("k3"), 0.3);
  assert.deepEqual(candidates("k1", "long"), []); // 3 % is not worth a word
  assert.deepEqual([0.934, 0.999, 1].map(percent), ["93 %", "99 %", "99 %"]);
});

test("landmarks below the limit of the house are not proposed; kept ones are marks, and no proposals any more", () => {
  const player = { frame: { value: 3 }, isPlaying: { value: true }, show(frame) { this.frame.value = frame; } };
  assert.deepEqual([foundOn("k1", 2).map((each) => each.landmark), framesOf("k1")], [["LV_APEX", "RA_CENTRE"], [2, 7]]);
  keepAllFound(player, "k1"); // nobody looked yet: they are shown, at the nearest frame
  assert.deepEqual([said(), areShown.value, player.frame.value, player.isPlaying.value], [[], true, 2, false]);
  keepAllFound(player, "k1");
  assert.deepEqual(said(), [["draw mark", "k1"], ["draw mark", "k1"]]);
  const { mark, ...rest } = waiting.value[0].payload;
  assert.deepEqual(rest, { clip: "k1", frame: 2, kind: "point", points: [[10, 20]], landmark: "LV_APEX", label: "left ventricular apex, inner border", proposed_spread_px: 3 });
  assert.ok(mark);
  assert.deepEqual(foundOf("k1").map((each) => each.frame), [7]);
  keepAllFound(player, "k1");
  assert.equal(told.value, "Nothing is proposed on this frame; there are some on frame 8.");
  takeBack("undo");
  assert.equal(foundOn("k1", 2).length, 2);
  toggleFound(player, "k1");
  assert.equal(areShown.value, false);
});

test("a caliper on the masks is proposed as a line, in the words by which marks are measured", () => {
  open();
  const lines = [
    { what: "lvidd", frame: 4, ends: [[10, 20], [50, 20]], spread_px: 3, said: "" },
    { what: "left_atrium", frame: 4, ends: [[1, 2], [3, 4]], spread_px: 3, said: "single line" },
  ];
  const read = whole.value.get("k1");
  whole.value = new Map(whole.value).set("k1", { ...read, picture: { ...read.picture, lines } });
  page.value = { ...page.value, words: { landmark_from: 0.6, quantities: { lvidd: "LVIDd", left_atrium: "LA" }, calipers: { long: ["lvidd", "left_atrium"], short: ["lvidd"] } } };
  assert.deepEqual(foundOn("k1", 4).map((each) => each.words), ["LVIDd", "LA, single line"]);
  assert.equal(foundWords(foundOf("k1")), "3 landmarks and 2 calipers");
  keepFound("k1", [foundOn("k1", 4)[1]]);
  const { mark, ...rest } = waiting.value[0].payload;
  assert.deepEqual(rest, { clip: "k1", frame: 4, kind: "line", points: [[1, 2], [3, 4]], landmark: "", label: "LA, single line", proposed_spread_px: 3 });
  assert.equal(fold(page.value.state, waiting.value).marks[0].proposed_spread_px, 3);
  const moved = { action: "move mark", payload: { mark, clip: "k1", frame: 4, points: [[1, 2], [3, 5]] } };
  assert.equal(fold(page.value.state, [...waiting.value, moved]).marks[0].proposed_spread_px, null); // a hand placed it then
  assert.deepEqual(foundOn("k1", 4).map((each) => each.words), ["LVIDd"]);
});

test("calipers follow the view in which the mentor places a clip, and what it does not carry is said", () => {
  open();
  const lines = ["lvidd", "left_atrium"].map((what) => ({ what, frame: 4, ends: [[10, 20], [50, 20]], spread_px: 3, said: "" }));
  const read = whole.value.get("k1");
  whole.value = new Map(whole.value).set("k1", { ...read, picture: { ...read.picture, lines } });
  page.value = { ...page.value, words: { landmark_from: 0.6, quantities: { lvidd: "LVIDd", left_atrium: "LA" }, calipers: { long: ["left_atrium"], short: ["lvidd"] } } };
  assert.deepEqual(foundOn("k1", 4).map((each) => each.words), ["LA"]);
  assert.equal(elsewhereWords("k1"), "The engine laid LVIDd in another view; Long does not carry it.");
  page.value = { ...page.value, state: { ...page.value.state, placements: { k1: { action: "place clip", clip: "k1", view: "short" } } } };
  assert.deepEqual(foundOn("k1", 4).map((each) => each.words), ["LVIDd"]);
  assert.equal(elsewhereWords("k1"), "The engine laid LA in another view; Short does not carry it.");
});

test("no landmark is proposed where no view is, nor under Doppler", () => {
  open();
  whole.value = new Map(whole.value).set("k3", { ...whole.value.get("k3"), picture: { views: UNSURE, landmarks: [landmark("LV_APEX")] } });
  assert.equal(viewOf("k3").view, "");
  assert.deepEqual(foundOf("k3"), []);
  assert.equal(foundOf("k1").length, 3);
  whole.value = new Map(whole.value).set("k1", { ...whole.value.get("k1"), mode: { mode: "colour" } });
  assert.deepEqual(foundOf("k1"), []);
});

/** The first clip shows flow in a view with two valves, of which these can be judged there. */
function openFlow(able) {
  const view = { title: "Long", valves: ["mitral", "tricuspid"], serves: { colour: able } };
  open({ plan: { steps: [{ view: "long", letter: "a", title: "Long" }], views: { long: view } } });
  whole.value = new Map(whole.value).set("k1", { ...whole.value.get("k1"), mode: { mode: "colour" } });
}

test("confirming a view says the valve that only it can be, and shows it before", () => {
  openFlow(["mitral"]);
  assert.equal(valveShown("k1"), "mitral");
  confirmAll();
  assert.deepEqual(waiting.value.map((each) => each.payload.valve), ["mitral", null]);
});

test("the letter of a step in which a clip is proposed says no valve that nobody chose; again, it goes through them", () => {
  openFlow(["mitral", "tricuspid"]);
  assert.equal(valveShown("k1"), null);
  for (const _ of [1, 2, 3]) placeIn("k1", page.value.plan.steps[0]);
  assert.deepEqual(waiting.value.map((each) => each.payload.valve), [null, "mitral", "tricuspid"]);
});
