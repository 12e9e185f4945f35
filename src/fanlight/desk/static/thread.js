// What practice and mentor say to each other about this case: requests for more images, replies, re-scans, notes.
import { newId, post } from "./api.js";
import { html, useSignal } from "./html.js";
import { loadStudy, mentor, opened, page } from "./model.js";

const KINDS = ["request for more images", "reply", "re-scan sent", "note"];

export function Thread() {
  const kind = useSignal(KINDS[0]);
  const words = useSignal("");
  const why = useSignal("");
  const send = async (/** @type {Event} */ event) => {
    event.preventDefault();
    if (!words.value.trim()) return;
    if (!mentor.value.trim()) {
      opened.value = "name";
      return;
    }
    const body = { id: newId(), author: mentor.value.trim(), kind: kind.value, words: words.value.trim(), answers: "" };
    try {
      await post(`/api/studies/${page.value.id}/messages`, body);
      words.value = "";
      why.value = "";
      await loadStudy(page.value.id);
    } catch (error) {
      why.value = error instanceof Error ? error.message : String(error);
    }
  };
  return html`<section class="thread" aria-label="Thread of the case">
    <h2>Thread of the case</h2>
    <ul>
      ${(page.value.messages ?? []).map(
        (/** @type {any} */ each) => html`<li key=${each.id}>
          <span class="quiet">${each.kind} · ${each.author} · ${new Date(each.at).toLocaleString()}</span>
          <p class="mentor">${each.words}</p>
        </li>`,
      )}
    </ul>
    <form onSubmit=${send}>
      <label class="field">kind
        <select value=${kind.value} onChange=${(/** @type {any} */ event) => {
          kind.value = event.target.value;
        }}>
          ${KINDS.map((each) => html`<option key=${each} value=${each}>${each}</option>`)}
        </select>
      </label>
      <label class="field">words
        <textarea class="mentor" rows="2" value=${words.value} onInput=${(/** @type {any} */ event) => {
          words.value = event.target.value;
        }}></textarea>
      </label>
      ${why.value ? html`<p class="caution" role="alert">${why.value}</p>` : null}
      <p class="buttons"><button type="submit">put it on the thread</button></p>
    </form>
  </section>`;
}
