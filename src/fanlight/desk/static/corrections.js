// The corrections of the letter: which ones, in which order, in whose words. Undecided proposals are none.
import { get } from "./api.js";
import { WordsField } from "./field.js";
import { html, useEffect, useSignal } from "./html.js";
import { page, say, state, told } from "./model.js";
import { capital } from "./words.js";

const PARTS = ["means", "cause", "correction"];

/** @param {any} item @param {string} part the name under which the letter knows a text */
const partName = (item, part) => `${item.criterion}:${item.side}:${part}`;

/** @param {any} item @param {string} part @returns {string | null} the mentor's words, null: those of the draft hold */
function ownWords(item, part) {
  const found = state.value.texts.find(
    (/** @type {any} */ each) => each.document === "letter" && each.part === partName(item, part),
  );
  return found?.text ?? null;
}

/** In the mentor's order; those not named follow as drafted. @param {any[]} all @returns {any[]} */
function ordered(all) {
  const order = state.value.correction_order.map((/** @type {string[]} */ each) => each.join(":"));
  const place = (/** @type {any} */ item) => {
    const at = order.indexOf(`${item.criterion}:${item.side}`);
    return at < 0 ? order.length : at;
  };
  return [...all].sort((a, b) => place(a) - place(b));
}

/** @param {any[]} all @param {number} n @param {1 | -1} sense bring the n-th one place back or forward */
function move(all, n, sense) {
  const order = all.map((each) => [each.criterion, each.side]);
  [order[n + sense], order[n]] = [order[n], order[n + sense]];
  if (say("order corrections", { order })) told.value = `${all[n].title}: now number ${n + sense + 1}.`;
}

/** @param {{item: any}} props */
function Texts({ item }) {
  const n = PARTS.filter((part) => ownWords(item, part) !== null).length;
  return html`<details>
    <summary>its words${n ? html`, <span class="mentor">some of them yours</span>` : ""}</summary>
    ${PARTS.filter((part) => item.draft[part]).map((part) => {
      const own = ownWords(item, part);
      const change = (/** @type {string} */ words) => {
        const text = words && words !== item.draft[part] ? words : null;
        return text === own || say("edit text", { document: "letter", part: partName(item, part), text });
      };
      return html`<label key=${part} class="field">${capital(part)}${own === null ? "" : ", in your words; empty: as proposed"}
        <${WordsField} study=${page.value.id} name=${`letter ${partName(item, part)}`} rows=${3} class=${own === null ? "engine" : "mentor"} value=${own ?? item.draft[part]} onSaid=${change} />
      </label>`;
    })}
  </details>`;
}

/** @param {{item: any, n: number, all: any[], stands: boolean}} props */
function Row({ item, n, all, stands }) {
  const choose = (/** @type {any} */ event) =>
    say("choose correction", {
      criterion: item.criterion,
      side: item.side,
      is_kept: event.target.checked,
      reason: "",
    });
  const at = (/** @type {1 | -1} */ sense, /** @type {string} */ arrow, /** @type {string} */ word) =>
    html`<button class="small" disabled=${n + sense < 0 || n + sense >= all.length} aria-label=${`${item.title}: one place ${word}`} onClick=${() => move(all, n, sense)}>${arrow}</button>`;
  return html`<li>
    <p class="row"><label><input type="checkbox" checked=${stands} onChange=${choose} /> ${item.title}</label>
      <span class="gap"></span>${at(-1, "↑", "forward")}${at(1, "↓", "back")}</p>
    <${Texts} item=${item} />
  </li>`;
}

/** @param {{version: number}} props counts what changed the letter */
export function Corrections({ version }) {
  const found = useSignal(/** @type {any[] | null} */ (null));
  const study = page.value.id;
  useEffect(() => {
    let isWanted = true;
    get(`/api/studies/${study}/corrections`)
      .then((answer) => {
        if (isWanted) found.value = answer.corrections;
      })
      .catch(() => {}); // the preview beside it says what is wrong
    return () => {
      isWanted = false;
    };
  }, [study, version]);
  if (found.value === null) return null;
  const all = ordered(found.value);
  const stands = (/** @type {any} */ item) =>
    state.value.corrections.find(
      (/** @type {any} */ each) => each.criterion === item.criterion && each.side === item.side,
    )?.is_kept ?? item.stands;
  return html`<section class="corrections" aria-label="Corrections in the letter">
    <h2>Corrections in the letter</h2>
    ${all.length === 0 ? html`<p class="quiet">None yet: a missed finding that you keep becomes one.</p>` : null}
    <ol>
      ${all.map((item, n) => html`<${Row} key=${item.criterion + item.side} item=${item} n=${n} all=${all} stands=${stands(item)} />`)}
    </ol>
  </section>`;
}
