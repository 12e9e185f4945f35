// What marks say on the page, held against the worked examples that the letters are held to as well.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { test } from "node:test";

const from = (name) => import(`../../src/fanlight/desk/static/${name}.js`);
const { areasOf } = await from("areas");
const { readMark, readOut } = await from("read_out");
const { spectrumNotes } = await from("spectrum_notes");
const { screens, cases } = JSON.parse(readFileSync(new URL("../measure/read_out_cases.json", import.meta.url), "utf8"));

for (const { name, screen, marked, kind, points, area, values } of cases) {
  test(`a mark says what was worked out by hand: ${name}`, () => {
    const areas = areasOf(screens[screen], { depth: null, axes: [], ...marked });

    const found = readMark(kind, points, areas);

    assert.equal(found.area, area);
    assert.deepEqual(found.values.map((each) => [each.name, each.unit]), values.map(([title, , unit]) => [title, unit]));
    for (const [n, [title, value]] of values.entries())
      assert.ok(Math.abs(found.values[n].value - value) < 1e-9 * Math.max(1, Math.abs(value)), `${title}: ${found.values[n].value}`);
  });
}

test("beside marks on a spectrum stand the formula with its source, and what an angle does", () => {
  const spectrum = { kind: "spectrum", msPerCol: 4, cmsPerRow: 0.5, zeroRow: 500 };
  assert.equal(spectrumNotes(null, [{ kind: "picture", mmPerRow: 1, mmPerCol: 1 }]), null);
  const plain = spectrumNotes({ regions: [{ region: {} }] }, [spectrum]);
  assert.match(plain.source, /4v².*simplified Bernoulli, QUINONES2002/);
  assert.equal(plain.notes.length, 1);
  assert.match(plain.notes[0], /No angle is corrected: .* lower bounds/);
  const tissue = { ...spectrum, isTissue: true };
  assert.equal(spectrumNotes(null, [tissue]).source, "");
  assert.equal(readOut("point", [[300, 0]], [tissue]), "100 cm/s");
  const inverted = spectrumNotes({ regions: [{ region: { doppler_angle_deg: -15 } }] }, [{ ...spectrum, cmsPerRow: -0.5 }]);
  assert.match(inverted.notes[1], /up is away from the probe/);
  assert.match(inverted.notes[2], /angle of 15°/);
});

test("what is read is said in one line", () => {
  const areas = [{ kind: "picture", mmPerRow: 0.5, mmPerCol: 0.5 }];
  assert.equal(readOut("line", [[0, 0], [30, 40]], areas), "25.0 mm");
  assert.equal(readOut("trace", [[0, 0], [0, 20], [20, 20], [20, 0]], areas), "30.0 mm · 1.00 cm²");
  assert.equal(readOut("line", [[0, 0], [30, 40]], []), "50.0 px");
  assert.equal(readOut("line", [[0, 0]], areas), "");
  assert.equal(readOut("angle", [[0, 1], [0, 0], [1, 0]], []), "90°");
  const spectrum = [{ kind: "spectrum", msPerCol: 4, cmsPerRow: 0.5, zeroRow: 500 }];
  assert.equal(readOut("point", [[560, 0]], spectrum), "−30.0 cm/s · 4v² 0.4 mmHg");
  assert.equal(
    readOut("line", [[380, 100], [440, 150]], spectrum),
    "60.0 cm/s · 4v² 1.4 mmHg · Δ −30.0 cm/s · 200 ms · −150 cm/s² · if one beat 300/min",
  );
  // Along a spectrum a time is meant, and nothing else is said.
  assert.equal(readOut("line", [[500, 100], [500, 250]], spectrum), "600 ms · if one beat 100/min");
  assert.equal(readOut("line", [[499, 100], [501, 250]], spectrum), "600 ms · if one beat 100/min");
  assert.equal(
    readOut("trace", [[500, 100], [300, 150], [500, 200]], spectrum),
    "peak 100 cm/s · 4v² 4.0 mmHg · VTI 20.0 cm · mean 50.0 cm/s · mean 4v² 1.3 mmHg · 400 ms",
  );
  assert.equal(readOut("line", [[30, 40], [30, 40]], areas), "0.0 mm");
});
