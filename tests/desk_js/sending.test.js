// How files are sent: few at once, and for as long as the service is away.
import assert from "node:assert/strict";
import { test } from "node:test";

const from = (name) => import(`../../src/fanlight/desk/static/${name}.js`);
const { Away, Told } = await from("api");
const { AT_ONCE, inPool, pauseMs, untilAnswered } = await from("sending");

const told = (status) => new Told({ what: "w", where: "", remedy: "r" }, status);

/** A deed that fails with each of these in turn, then answers. */
function failing(...errors) {
  return async () => {
    const error = errors.shift();
    if (error) throw error;
    return "done";
  };
}

/** What was said and how long was waited, with no time passing. */
function watched(more = {}) {
  const seen = { said: [], pauses: [] };
  const wait = async (ms) => void seen.pauses.push(ms);
  return { seen, how: { tell: (words) => seen.said.push(words), isWanted: () => true, wait, ...more } };
}

test("all intakes together have two connections; what waits has its turn in order", async () => {
  let [busy, most] = [0, 0];
  const order = [];
  const job = (n) => async () => {
    busy += 1;
    most = Math.max(most, busy);
    order.push(n);
    await new Promise((done) => setTimeout(done, 2));
    busy -= 1;
    if (n === 3) throw new Error("one that fails frees its place");
  };
  const done = await Promise.allSettled([...Array(9).keys()].map((n) => inPool(job(n))));
  assert.equal(AT_ONCE, 2);
  assert.deepEqual([most, busy], [2, 0]);
  assert.deepEqual(order, [...Array(9).keys()]);
  assert.equal(done.filter((each) => each.status === "rejected").length, 1);
});

test("a file is sent again for as long as the service is away, and the words say so", async () => {
  const { seen, how } = watched();
  assert.equal(await untilAnswered(failing(...Array(40).fill(new Away())), how), "done");
  assert.deepEqual(seen.pauses.slice(0, 6), [1000, 2000, 4000, 8000, 16000, 30000]);
  assert.equal(seen.pauses.length, 40);
  assert.equal(pauseMs(1000), 30000);
  assert.match(seen.said[0], /does not answer.*sent again by itself/);
  assert.equal(seen.said.at(-1), "");
});

test("a service that was started anew, or is busy, is waited for; a refusal is not", async () => {
  const { seen, how } = watched();
  assert.equal(await untilAnswered(failing(told(401), told(503)), how), "done");
  assert.match(seen.said[0], /open the address that it printed/);
  for (const status of [400, 413, 507, 500]) {
    const waits = watched();
    await assert.rejects(untilAnswered(failing(told(status)), waits.how), (error) => error.status === status);
    assert.deepEqual(waits.seen.pauses, []);
  }
});

test("a file that was taken out, or an intake that was put away, ends the trying", async () => {
  const gone = new DOMException("A requested file could not be found", "NotFoundError");
  const file = { slice: () => ({ arrayBuffer: () => Promise.reject(gone) }) };
  await assert.rejects(untilAnswered(failing(new Away()), watched({ file }).how), { name: "NotFoundError" });
  await assert.rejects(untilAnswered(failing(new Away()), watched({ isWanted: () => false }).how), Away);
});
