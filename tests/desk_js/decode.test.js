// The worker that fetches frames, with a service that is only played.
import assert from "node:assert/strict";
import { test } from "node:test";

const said = [];
let hear = () => {};
globalThis.self = { addEventListener: (_, listener) => (hear = (data) => listener({ data })) };
globalThis.postMessage = (message) => said.push(message);
globalThis.createImageBitmap = async () => ({ close() {} });
const { pauseAfter } = await import("../../src/fanlight/desk/static/decode.js");

/** One frame as stored, in a packet. */
function packet(index) {
  const data = new Uint8Array(21);
  const head = new DataView(data.buffer);
  head.setUint32(0, index, true);
  head.setUint8(4, 1);
  head.setUint32(16, 1, true);
  return data;
}

const refused = (status) => () => new Response(JSON.stringify({ error: { what: `answer ${status}` } }), { status });
const given = (first) => () => new Response(packet(first));

/** Play answers to one wish; returns what the page hears until a picture or the end of the clip. */
async function heard(address, answers) {
  said.length = 0;
  let n = 0;
  globalThis.fetch = async () => answers[Math.min(n++, answers.length - 1)]();
  hear({ address, n: 1, wanted: [0] });
  const end = Date.now() + 20_000;
  while (!said.some((each) => each.bitmap || each.ended !== undefined)) {
    assert.ok(Date.now() < end, `only ${JSON.stringify(said)} was heard`);
    await new Promise((resolve) => setTimeout(resolve, 20));
  }
  return { messages: [...said], n };
}

test("frames that did not come are asked for again, and the page is told that they are", async () => {
  const broken = () => Promise.reject(new TypeError("no connection"));
  const { messages, n } = await heard("a", [refused(503), broken, given(0)]);
  assert.equal(n, 3);
  assert.deepEqual(
    messages.map(({ waits, trouble, form }) => ({ waits, trouble, form })),
    [
      { waits: true, trouble: "answer 503", form: undefined },
      { waits: true, trouble: "no connection", form: undefined },
      { waits: undefined, trouble: undefined, form: "JPEG as stored" },
    ],
  );
});

test("a frame that cannot be had is not asked for again", async () => {
  const { messages, n } = await heard("b", [refused(422)]);
  await new Promise((resolve) => setTimeout(resolve, 2 * pauseAfter(1)));
  assert.equal(n, 1);
  assert.equal(messages.at(-1).ended, 0);
});

test("the pause grows, and another clip does not wait for it", async () => {
  assert.deepEqual([1, 2, 3, 4, 5, 6, 20].map(pauseAfter), [500, 1000, 2000, 4000, 8000, 8000, 8000]);
  globalThis.fetch = async () => refused(503)();
  hear({ address: "c", n: 1, wanted: [0] });
  await new Promise((resolve) => setTimeout(resolve, 50));
  const since = Date.now();
  await heard("d", [given(0)]);
  assert.ok(Date.now() - since < pauseAfter(1) - 100);
});
