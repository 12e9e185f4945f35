// What the desk shows while answers overtake each other, and what taking back means while acts are on their way.
import assert from "node:assert/strict";
import { afterEach, beforeEach, test } from "node:test";

globalThis.location = { hash: "" };
const from = (name) => import(`../../src/fanlight/desk/static/${name}.js`);
const { isEarlier } = await from("order");
const { nextRedo, nextUndo } = await from("undoing");
const { draftKey, keepDraft, sayDraft, sayDrafts } = await from("drafts");
const acts = await from("acts");
const model = await from("model");
const { keepAll } = await from("keep_all");
const { takeBack } = await from("take_back");

let STUDY = "S"; // another one in each test
const MENTOR = "M. Linden";
const WORDS = { document: "letter", part: "closing", text: "x" };
let asked = []; // what the service was asked and has not answered yet

globalThis.fetch = (path, how = {}) =>
  new Promise((answer, fail) => {
    const give = (status, body) =>
      answer({ ok: status < 300, status, json: async () => body, text: async () => JSON.stringify(body) });
    asked.push({ path, body: how.body && JSON.parse(how.body), give, fail: () => fail(new TypeError("no network")) });
  });

const rest = () => new Promise((done) => setTimeout(done, 5));
/** The next request to an address, taken out. */
function request(path) {
  const at = asked.findIndex((each) => each.path === path);
  assert.ok(at >= 0, `nothing asked for ${path}, but ${asked.map((each) => each.path)}`);
  return asked.splice(at, 1)[0];
}
const entry = (id, more = {}) => ({ id, clip: "", at: `2026-01-01T00:00:${id}`, author: MENTOR, action: "x", undoes: "", ...more });
const decided = (n, more = {}) => ({
  last_entry: n ? String(10 + n) : "",
  n_entries: n,
  next_undo: n ? String(10 + n) : "",
  next_redo: "",
  state: { texts: [{ document: "letter", part: "closing", text: `as of ${n}` }] },
  blind: [],
  review: {},
  ...more,
});
const clip = (number) => ({ key: `c${number}`, number });
const finding = (key) => ({ clip: key, criterion: "depth", verdict: "missed" });
const facts = (number, findings = [finding(`c${number}`)]) => ({ clip: clip(number), mode: {}, findings });
const study = (n, more = {}) => ({
  ...decided(n),
  id: STUDY,
  engine: { state: "idle" },
  study: { clips: [clip(1), clip(2)] },
  readings: [facts(1), facts(2)],
  entries: Array.from({ length: n }, (_, k) => entry(String(11 + k))),
  ...more,
});
const shown = () => model.page.value.state.texts[0].text;

let n = 0;
beforeEach(() => {
  STUDY = `S${n++}`;
  asked = [];
  acts.refused.value = [];
  acts.isAway.value = false;
  model.mentor.value = MENTOR;
  model.place.value = { name: "study", study: STUDY };
  model.page.value = null;
  model.clipKey.value = "";
});

afterEach(async () => {
  acts.waiting.value = [];
  for (const each of asked) each.give(400, {}); // so that nothing is on its way into the next test
  await rest();
});

async function open(n, more) {
  const loading = model.loadStudy(STUDY);
  request(`/api/studies/${STUDY}`).give(200, study(n, more));
  await loading;
  await rest();
}

async function giveReading(key, findings = [finding(key)]) {
  request(`/api/studies/${STUDY}/clips/${key}`).give(200, { clip: { key }, mode: {}, findings });
  await rest();
}

test("an earlier state is told by a shorter log, else by the earlier request; who asks after the answer hears later", () => {
  const held = { n_entries: 5, asked: 10, came: 14 };
  const rows = [
    [4, 12, true],
    [4, 15, false], // a log that was set back: asked for after the other came
    [5, 9, true],
    [5, 11, false],
    [6, 9, false],
  ];
  for (const [n_entries, at, is] of rows) assert.equal(isEarlier({ n_entries }, at, held), is, `${n_entries} ${at}`);
});

test("the slower, older answer of two does not land last", async () => {
  await open(1);
  void model.loadState();
  void model.loadState();
  const [first, second] = [request(`/api/studies/${STUDY}/state`), request(`/api/studies/${STUDY}/state`)];
  second.give(200, decided(3));
  await rest();
  first.give(200, decided(2));
  await rest();
  assert.equal(shown(), "as of 3");
});

test("a study that was asked for before a later state came keeps that state, brings its files, and is loaded anew", async () => {
  await open(1);
  void model.loadStudy(STUDY);
  const slow = request(`/api/studies/${STUDY}`);
  void model.loadState();
  request(`/api/studies/${STUDY}/state`).give(200, decided(2));
  await rest();
  slow.give(200, study(1, { files: ["new"] }));
  await rest();
  assert.deepEqual([shown(), model.page.value.files], ["as of 2", ["new"]]);
  request(`/api/studies/${STUDY}`).give(200, study(2));
  await rest();
  assert.equal(shown(), "as of 2");
});

test("a study that was left does not come over the one that is open", async () => {
  await open(1);
  void model.loadStudy("other");
  request("/api/studies/other").give(200, { ...study(9), id: "other" });
  await rest();
  assert.equal(model.page.value.id, STUDY);
});

test("a state that could not be loaded is loaded when the service is back", async () => {
  await open(1);
  void model.loadState();
  request(`/api/studies/${STUDY}/state`).fail();
  await rest();
  model.catchUp();
  request(`/api/studies/${STUDY}/state`).give(200, decided(2));
  await rest();
  assert.equal(shown(), "as of 2");
});

test("taking back means what it means in the store, through undo and redo of what is not written yet", () => {
  // The rules of store/taking_back.py, written out: act a, act b, undo of b, redo (an undo of the undo).
  const [a, b] = [{ id: "a", action: "x", undoes: "" }, { id: "b", action: "x", undoes: "" }];
  const u = { id: "u", action: "undo", undoes: "b" };
  const r = { id: "r", action: "redo", undoes: "u" };
  assert.deepEqual([nextUndo([a, b]), nextRedo([a, b])], ["b", ""]);
  assert.deepEqual([nextUndo([a, b, u]), nextRedo([a, b, u])], ["a", "u"]);
  assert.deepEqual([nextUndo([a, b, u, r]), nextRedo([a, b, u, r])], ["b", ""]);
  assert.deepEqual([nextUndo([a, { id: "s", action: "sign", undoes: "" }]), nextUndo([])], ["", ""]);
});

test("taking back what is on its way names that act, and shows at once", async () => {
  await open(1);
  model.say("edit text", WORDS);
  takeBack("undo");
  const [act, undo] = acts.waiting.value;
  assert.equal(undo.body.entry, act.id);
  assert.equal(model.state.value.texts[0].text, "as of 1");
  takeBack("undo");
  assert.equal(acts.waiting.value[2].body.entry, "11"); // the next one: what the log holds
  takeBack("redo");
  assert.equal(acts.waiting.value[3].body.entry, acts.waiting.value[2].id);
});

test("an act that is refused takes its taking back with it; what was done before stays", async () => {
  await open(1);
  model.say("edit text", WORDS);
  takeBack("undo");
  const first = request(`/api/studies/${STUDY}/entries`);
  first.give(400, { error: { what: "no such part", where: "", remedy: "" } });
  await rest();
  assert.deepEqual(acts.refused.value.map((each) => each.act.action), ["edit text", "undo"]);
  assert.deepEqual([acts.waiting.value, asked.filter((each) => each.path.endsWith("/undo"))], [[], []]);
});

test("with nothing to take back nothing is sent, and a word says so", async () => {
  await open(0);
  takeBack("undo");
  assert.deepEqual([acts.waiting.value, model.told.value], [[], "Nothing is left to take back."]);
});

test("a listener that fails does not make the service count as away", async () => {
  await open(1);
  const stop = acts.onWritten(() => {
    throw new Error("of a page");
  });
  const told = new Promise((done) => {
    globalThis.reportError = done;
  });
  model.say("edit text", WORDS);
  const sent = request(`/api/studies/${STUDY}/entries`);
  sent.give(200, { ...decided(2), entry: entry("12") });
  assert.match((await told).message, /of a page/);
  stop();
  assert.deepEqual([acts.waiting.value, acts.isAway.value], [[], false]);
});

test("between the judgement and the proposals a clip is not decided, and Enter says that they are on their way", async () => {
  await open(1, { blind: ["c1"], readings: [facts(1, []), facts(2)] });
  await giveReading("c1", []);
  model.say("judge blind", { clip: "c1", view: "", verdicts: [], words: "" }, "c1");
  request(`/api/studies/${STUDY}/entries`).give(200, { ...decided(2), entry: entry("12") });
  await rest();
  assert.deepEqual([model.isWhole.value, model.needsDecision("c1")], [false, true]);
  keepAll();
  assert.match(model.told.value, /on their way/);
  await giveReading("c1");
  assert.deepEqual([model.isWhole.value, model.needsDecision("c1"), model.findings.value.length], [true, true, 1]);
  keepAll();
  assert.match(model.told.value, /Kept 1 finding/);
});

test("a clip that is not read yet is not decided while the engine reads, and Enter does not go there", async () => {
  await open(0, { engine: { state: "reading" }, readings: [facts(1)] });
  await giveReading("c1");
  assert.deepEqual([model.needsDecision("c1"), model.needsDecision("c2")], [true, true]);
  keepAll();
  assert.equal(model.clipKey.value, "c1");
  assert.match(model.told.value, /not read yet/);
});

test("typed words are said once, when one is done, and kept while they cannot be", () => {
  const said = [];
  let isNamed = false;
  const key = draftKey(STUDY, "letter closing");
  keepDraft(key, { text: "Well done.", say: () => isNamed && said.push("Well done.") > 0 });
  sayDrafts("other");
  assert.equal(sayDraft(key), false);
  isNamed = true;
  sayDrafts(STUDY);
  sayDrafts(STUDY);
  assert.deepEqual(said, ["Well done."]);
});

test("what stands typed is said before a paper is signed, and when the name is given", async () => {
  await open(0);
  model.mentor.value = "";
  keepDraft(draftKey(STUDY, "letter closing"), { text: "x", say: () => model.say("edit text", WORDS) });
  model.sayUnsaid();
  assert.equal(acts.waiting.value.length, 0);
  model.mentor.value = MENTOR;
  assert.equal(acts.waiting.value.length, 1);
  keepDraft(draftKey(STUDY, "letter opening"), { text: "y", say: () => model.say("edit text", { ...WORDS, part: "opening" }) });
  void acts.settled();
  assert.equal(acts.waiting.value.length, 2);
});
