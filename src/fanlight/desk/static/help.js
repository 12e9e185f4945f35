// The table of keys, made from the table that the program obeys.
import { html } from "./html.js";
import { KEYS } from "./keys.js";
import { lettersCount, opened } from "./model.js";

export function Help() {
  const open = (/** @type {HTMLDialogElement | null} */ element) => {
    if (element && !element.open) element.showModal();
  };
  const close = () => {
    opened.value = "";
  };
  return html`<dialog class="help" ref=${open} onClose=${close} aria-label="Keys">
    <header><h2>Keys</h2><button onClick=${close}>close <kbd>Esc</kbd></button></header>
    <p>Letters belong to the path; everything else is on keys that are no letters. Nothing is asked before an act: <kbd>Backspace</kbd> takes it back.</p>
    <div class="key-scroll" tabindex="0" role="region" aria-label="Table of keys">
      <table>
        <thead><tr><th scope="col">key</th><th scope="col">does</th></tr></thead>
        <tbody>
          ${KEYS.map(
            (row) => html`<tr key=${row.act} data-act=${row.act}>
              <td>${row.shown.map((each, n) => html`${n ? " or " : ""}<kbd key=${each}>${each}</kbd>`)}</td>
              <td>${row.words}</td>
            </tr>`,
          )}
        </tbody>
      </table>
    </div>
    <label><input type="checkbox" checked=${lettersCount.value} onChange=${(/** @type {any} */ event) => {
      lettersCount.value = event.target.checked;
    }} />
      keys that write a letter or a sign act at once (switch off when you dictate)</label>
  </dialog>`;
}
