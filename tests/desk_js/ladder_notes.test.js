// Clips that a ladder's notes speak of: node --test tests/desk_js
import assert from "node:assert/strict";
import { test } from "node:test";

globalThis.localStorage ??= {
  getItem: () => null,
  setItem: () => {},
  removeItem: () => {},
  length: 0,
  key: () => null,
};
const { notePieces } = await import("../../src/fanlight/desk/static/ladder_notes.js");

const ALL = [4, 5, 12].map((number) => ({ key: `key${number}`, number }));
const said = (/** @type {any[]} */ pieces) => pieces.map((each) => each.text).join("");
const linked = (/** @type {any[]} */ pieces) => pieces.flatMap((each) => each.clip?.key ?? []);

test("each clip that a note names leads to it, and its words stay as they are", () => {
  const note = "Spectral Doppler (clip 5, 12) without a colour clip: clip 4 is not one.";
  const pieces = notePieces(note, [], ALL);
  assert.equal(said(pieces), note);
  assert.deepEqual(linked(pieces), ["key5", "key12", "key4"]);
});

test("notes that begin with their clips are no other", () => {
  const pieces = notePieces("Clip 4, 5: stored, and not judged from its pixels.", [], ALL);
  assert.deepEqual(linked(pieces), ["key4", "key5"]);
});

test("other numbers, and clips that the study has not, lead nowhere", () => {
  const note = "Reported at the mitral valve: MR Vmax 5 m/s. It is read off clip 3, 51.";
  const pieces = notePieces(note, [], ALL);
  assert.equal(said(pieces), note);
  assert.deepEqual(linked(pieces), []);
});

test("a rule's clips come last where a House's own words do not name them", () => {
  const findings = [
    { words: "Colour first.", clips: ["key12", "gone", "key12"] },
    { words: "Other.", clips: ["key4"] },
  ];
  const pieces = notePieces("Colour first.", findings, ALL);
  assert.deepEqual(linked(pieces), ["key12"]);
  assert.equal(said(pieces), "Colour first. 12");
});
