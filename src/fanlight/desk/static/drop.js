// Where files are dropped or chosen, and what they come as: a new study, or a re-scan that was asked for.
import { html, signal } from "./html.js";
import { takeChosen, takeDrop } from "./upload.js";
import { day } from "./words.js";

/** What is dropped next comes as: "" a new study, else the id of the study that it answers. */
export const comesAs = signal("");

/** What makes a place take files. @param {{value: boolean}} isOver @param {() => string} parent the study that they answer, "" for none */
export const takesFiles = (isOver, parent) => ({
  onDragOver: (/** @type {DragEvent} */ event) => {
    if (!event.dataTransfer?.types.includes("Files")) return;
    event.preventDefault();
    event.stopPropagation();
    isOver.value = true;
  },
  onDragLeave: (/** @type {DragEvent} */ event) => {
    const [place, to] = [/** @type {Node} */ (event.currentTarget), /** @type {Node | null} */ (event.relatedTarget)];
    if (!to || !place.contains(to)) isOver.value = false;
  },
  onDrop: (/** @type {DragEvent} */ event) => {
    if (!event.dataTransfer?.types.includes("Files")) return;
    event.preventDefault();
    event.stopPropagation();
    isOver.value = false;
    void takeDrop(event.dataTransfer, parent());
    comesAs.value = "";
  },
});

/** @param {{parent: () => string}} props */
export function Choose({ parent }) {
  const chosen = (/** @type {any} */ event) => {
    void takeChosen(event.target.files, parent());
    event.target.value = "";
    comesAs.value = "";
  };
  return html`<label class="button">choose files<input type="file" multiple onChange=${chosen} /></label>
    <label class="button">choose a folder<input type="file" webkitdirectory multiple onChange=${chosen} /></label>`;
}

/** @param {{studies: any[]}} props lines of the list */
export function Drop({ studies }) {
  const asked = studies.filter((each) => each.waits_for_rescan.length > 0);
  const there = asked.some((each) => each.id === comesAs.value);
  return html`<p class="drop">
    <span>Drop a folder, a zip or files anywhere, or</span>
    <${Choose} parent=${() => comesAs.value} />
    ${
      asked.length
        ? html`<label class="as">as <select value=${there ? comesAs.value : ""} onChange=${(
            /** @type {any} */ event,
          ) => {
            comesAs.value = event.target.value;
          }}>
          <option value="">a new study</option>
          ${asked.map((each) => html`<option key=${each.id} value=${each.id}>re-scan for ${each.animal || each.title}, asked for on ${day(each.waits_for_rescan[0].at)}</option>`)}
        </select></label>`
        : null
    }
  </p>`;
}
