// Findings told anew take the place of the draft's; those on the plane go together.
import assert from "node:assert/strict";
import { test } from "node:test";

const { toldNow } = await import("../../src/fanlight/desk/static/told_now.js");
const PLANE = ["septum_slope", "apex_shown", "short_axis_level"];
const CRITERIA = Object.fromEntries(PLANE.map((key) => [key, { family: "plane" }]));
const finding = (criterion, verdict = "met") => ({ criterion, verdict });
const DRAFT = [finding("overall_gain"), finding("chamber_cut"), finding("septum_slope"), finding("apex_shown")];

test("nothing told anew leaves the draft as it is", () => {
  assert.equal(toldNow(DRAFT, [], CRITERIA), DRAFT);
});

test("a clip in another view has the findings that this view asks for, and no others on its plane", () => {
  const anew = [finding("chamber_cut", "missed"), finding("short_axis_level", "missed")];

  assert.deepEqual(
    toldNow(DRAFT, anew, CRITERIA).map((each) => [each.criterion, each.verdict]),
    [["overall_gain", "met"], ["chamber_cut", "missed"], ["short_axis_level", "missed"]],
  );
});

test("what was told of a clip in another view is not shown of it in this one", () => {
  assert.deepEqual(
    toldNow(DRAFT, [], CRITERIA, true).map((each) => each.criterion),
    ["overall_gain", "chamber_cut"],
  );
});

test("a mark changes the verdict in its place", () => {
  const anew = [finding("septum_slope", "missed"), finding("apex_shown")];

  assert.deepEqual(toldNow(DRAFT, anew, CRITERIA)[2], finding("septum_slope", "missed"));
  assert.equal(toldNow(DRAFT, anew, CRITERIA).length, DRAFT.length);
});

test("marked hinges change how the valve parts the box in its place, and what is told of the plane stays", () => {
  const byEngine = { ...finding("colour_box_split", "missed"), reason: "by the engine's landmarks, not confirmed: at one end" };
  const byMarks = { ...finding("colour_box_split"), reason: "the mitral valve, as marked, parts the box's length 36 to 64" };
  const draft = [...DRAFT, byEngine];
  const now = toldNow(draft, [finding("septum_slope"), finding("apex_shown"), byMarks], CRITERIA);

  assert.deepEqual(
    now.map((each) => each.criterion),
    draft.map((each) => each.criterion),
  );
  assert.equal(now.at(-1), byMarks);
  assert.equal(toldNow(draft, [], CRITERIA).at(-1), byEngine);
});
