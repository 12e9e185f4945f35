// The corrections of the letter: which ones, in which order, in whose words.
import { html } from "./html.js";
import { page, say, state } from "./model.js";
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

/** In the mentor's order; those not named follow as drafted. @returns {any[]} */
function ordered() {
  const order = state.value.correction_order.map((/** @type {string[]} */ each) => each.join(":"));
  const place = (/** @type {any} */ item) => {
    const at = order.indexOf(`${item.criterion}:${item.side}`);
    return at < 0 ? order.length : at;
  };
  return [...(page.value.review?.priorities ?? [])].sort((a, b) => place(a) - place(b));
}

/** @param {any[]} all @param {number} n bring the n-th one place forward */
function forward(all, n) {
  const order = all.map((each) => [each.criterion, each.side]);
  [order[n - 1], order[n]] = [order[n], order[n - 1]];
  say("order corrections", { order });
}

/** @param {{item: any}} props */
function Texts({ item }) {
  return html`<details>
    <summary>its words</summary>
    ${PARTS.filter((part) => item[part]).map((part) => {
      const own = ownWords(item, part);
      const change = (/** @type {any} */ event) => {
        const text = event.target.value.trim();
        if (text !== (own ?? item[part])) {
          say("edit text", {
            document: "letter",
            part: partName(item, part),
            text: text && text !== item[part] ? text : null,
          });
        }
      };
      return html`<label key=${part} class="field">${capital(part)}${own === null ? "" : ", in your words"}
        <textarea rows="3" class=${own === null ? "engine" : "mentor"} value=${own ?? item[part]} onChange=${change}></textarea>
      </label>`;
    })}
  </details>`;
}

export function Corrections() {
  const all = ordered();
  if (all.length === 0) return null;
  const isKept = (/** @type {any} */ item) =>
    state.value.corrections.find(
      (/** @type {any} */ each) => each.criterion === item.criterion && each.side === item.side,
    )?.is_kept ?? true;
  const choose = (/** @type {any} */ item, /** @type {boolean} */ is_kept) =>
    say("choose correction", { criterion: item.criterion, side: item.side, is_kept, reason: "" });
  return html`<section class="corrections" aria-label="Corrections in the letter">
    <h2>Corrections in the letter</h2>
    <ol>
      ${all.map(
        (item, n) => html`<li key=${item.criterion + item.side}>
          <p class="row"><label><input type="checkbox" checked=${isKept(item)}
            onChange=${(/** @type {any} */ event) => choose(item, event.target.checked)} /> ${item.title}</label>
            <span class="gap"></span>
            ${n ? html`<button class="small" aria-label=${`${item.title}: one place forward`} onClick=${() => forward(all, n)}>↑</button>` : null}</p>
          <${Texts} item=${item} />
        </li>`,
      )}
    </ol>
  </section>`;
}
