// What became of each file of the study.
import { html } from "./html.js";
import { opened, page } from "./model.js";
import { count } from "./words.js";

const refusedOf = () => (page.value?.files ?? []).filter((/** @type {any} */ each) => each.fate === "refused");

/** Opens the list; says at once when a file was refused. */
export function FilesButton() {
  const n = refusedOf().length;
  return html`<button class="small" onClick=${() => {
    opened.value = "files";
  }}>${count(page.value.files.length, "file")}${n ? `, ${n} refused` : ""}</button>`;
}

export function FilesPanel() {
  const files = [...refusedOf(), ...page.value.files.filter((/** @type {any} */ each) => each.fate !== "refused")];
  const close = () => {
    opened.value = "";
  };
  return html`<div class="panel files" role="dialog" aria-label="Files of the study">
    <h2>Files of the study</h2>
    <ul class="fates">
      ${files.map(
        (/** @type {any} */ each) => html`<li key=${each.name}>${each.name} <span class="fate">${each.fate}</span>
          ${(each.refusals ?? []).map((/** @type {any} */ why, /** @type {number} */ n) => html`<p key=${n} class="caution">${why.place ? `${why.place}: ` : ""}expected ${why.expected}; found ${why.found}. ${why.remedy}</p>`)}</li>`,
      )}
    </ul>
    <p class="buttons"><button onClick=${close}>close <kbd>Esc</kbd></button></p>
  </div>`;
}
