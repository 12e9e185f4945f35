// What holds when an act has been done here and the service has not answered yet: the same rules as store/state.py.
// An answer replaces all of it; until then the desk shows what the mentor just said.

/** @typedef {import("./acts.js").Act} Act */

const EMPTY = {
  placements: {},
  modes: {},
  blind: {},
  decisions: [],
  added: [],
  ticks: [],
  structures: {},
  marks: [],
  scales: {},
  strip_scales: [],
  texts: [],
  corrections: [],
  correction_order: [],
  changes: [],
  exercise: null,
  advice: [],
  closing: null,
  named: null,
  urgency: null,
  calls: [],
  signed: {},
};

/** @param {any[]} rows @param {(row: any) => boolean} isSame @param {any} row null: take it away */
function replaced(rows, isSame, row) {
  const others = rows.filter((each) => !isSame(each));
  return row === null ? others : [...others, row];
}

/** @param {any} state @param {any[]} decided */
function decide(state, decided) {
  let decisions = state.decisions;
  for (const row of decided) {
    decisions = replaced(decisions, (each) => each.clip === row.clip && each.criterion === row.criterion, row);
  }
  return { ...state, decisions };
}

/** @param {any} state @param {Act} act */
function mark(state, act) {
  const same = (/** @type {any} */ each) => each.mark === act.payload.mark;
  if (act.action === "draw mark") return { ...state, marks: replaced(state.marks, same, said(act)) };
  if (act.action === "remove mark") return { ...state, marks: replaced(state.marks, same, null) };
  const moved = state.marks.map((/** @type {any} */ each) =>
    same(each) ? { ...each, ...act.payload, proposed_spread_px: null } : each,
  );
  return { ...state, marks: moved };
}

/** @param {any} state @param {Act} act */
function call(state, act) {
  const { payload } = act;
  if (act.action === "open call") {
    const opened = { call: payload.call, finding: payload.finding, made: [], acknowledged: null, is_open: true };
    return { ...state, calls: replaced(state.calls, (each) => each.call === payload.call, opened) };
  }
  const calls = state.calls.map((/** @type {any} */ each) => {
    if (each.call !== payload.call) return each;
    const next =
      act.action === "record call" ? { ...each, made: [...each.made, payload] } : { ...each, acknowledged: payload };
    return { ...next, is_open: next.made.length === 0 || next.acknowledged === null };
  });
  return { ...state, calls };
}

/** @param {Act} act */
function said(act) {
  return { action: act.action, ...act.payload };
}

/** @type {Record<string, (state: any, act: Act) => any>} */
const RULES = {
  "place clip": (s, a) => ({ ...s, placements: { ...s.placements, [a.payload.clip]: said(a) } }),
  "take clip out": (s, a) => ({ ...s, placements: { ...s.placements, [a.payload.clip]: said(a) } }),
  "name mode": (s, a) => {
    const { [a.payload.clip]: _, ...others } = s.modes;
    return { ...s, modes: a.payload.mode === null ? others : { ...others, [a.payload.clip]: said(a) } };
  },
  "judge blind": (s, a) => ({ ...s, blind: { ...s.blind, [a.payload.clip]: said(a) } }),
  "accept finding": (s, a) => decide(s, [said(a)]),
  "overrule finding": (s, a) => decide(s, [said(a)]),
  "accept findings": (s, a) =>
    decide(
      s,
      a.payload.criteria.map((/** @type {string} */ criterion) => ({
        action: "accept finding",
        clip: a.payload.clip,
        criterion,
      })),
    ),
  "add finding": (s, a) => ({ ...s, added: replaced(s.added, (each) => each.finding === a.payload.finding, said(a)) }),
  "take back finding": (s, a) => ({
    ...s,
    added: replaced(s.added, (each) => each.finding === a.payload.finding, null),
  }),
  "tick item": (s, a) => ({
    ...s,
    ticks: replaced(
      s.ticks,
      (each) =>
        each.clip === a.payload.clip && each.requirement === a.payload.requirement && each.item === a.payload.item,
      a.payload.is_shown === null ? null : a.payload,
    ),
  }),
  "judge structure": (s, a) => ({ ...s, structures: { ...s.structures, [a.payload.structure]: said(a) } }),
  "draw mark": mark,
  "move mark": mark,
  "remove mark": mark,
  "set scale": (s, a) => ({ ...s, scales: { ...s.scales, [a.payload.clip]: said(a) } }),
  "set strip scale": (s, a) => ({
    ...s,
    strip_scales: replaced(
      s.strip_scales,
      (each) => each.clip === a.payload.clip && each.marked.axis === a.payload.marked.axis,
      said(a),
    ),
  }),
  "edit text": (s, a) => ({
    ...s,
    texts: replaced(
      s.texts,
      (each) => each.document === a.payload.document && each.part === a.payload.part,
      a.payload.text === null ? null : a.payload,
    ),
  }),
  "choose correction": (s, a) => ({
    ...s,
    corrections: replaced(
      s.corrections,
      (each) => each.criterion === a.payload.criterion && each.side === a.payload.side,
      said(a),
    ),
  }),
  "order corrections": (s, a) => ({ ...s, correction_order: a.payload.order }),
  "judge change": (s, a) => ({
    ...s,
    changes: replaced(
      s.changes,
      (each) => each.cause === a.payload.cause,
      a.payload.word === "not said" ? null : said(a),
    ),
  }),
  "set exercise": (s, a) => ({ ...s, exercise: said(a) }),
  "judge advice": (s, a) => ({
    ...s,
    advice: replaced(
      s.advice,
      (each) => each.letter === a.payload.letter && each.about === a.payload.about,
      a.payload.word === "not said" ? null : said(a),
    ),
  }),
  "name facts": (s, a) => ({ ...s, named: { ...a.payload, by: a.body?.author ?? "" } }),
  "set closed": (s, a) => ({ ...s, closing: said(a) }),
  "flag urgency": (s, a) => ({ ...s, urgency: said(a) }),
  "open call": call,
  "record call": call,
  "acknowledge call": call,
};

/** @param {any} state what the service says holds @param {Act[]} acts done since, in order */
export function fold(state, acts) {
  let held = { ...EMPTY, ...state };
  for (const act of acts) held = RULES[act.action]?.(held, act) ?? held;
  return held;
}
