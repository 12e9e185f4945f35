// What is typed and not said yet stays, by study and field: node --test tests/desk_js
import assert from "node:assert/strict";
import { test } from "node:test";

const { typedIn } = await import("../../src/fanlight/desk/static/typed.js");

test("a field finds again what was typed into it, and nothing of another field or study", () => {
  typedIn("study 1", "message", () => "").value = "once more";
  assert.equal(typedIn("study 1", "message", () => "").value, "once more");
  assert.equal(typedIn("study 1", "call", () => "first").value, "first");
  assert.equal(typedIn("study 2", "message", () => "").value, "");
});
