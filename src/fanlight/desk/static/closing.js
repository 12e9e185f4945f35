// A study closes by its signatures. By hand it is closed when it came by mistake, and opened again when something is left.
import { html } from "./html.js";
import { page, say, state } from "./model.js";
import { typedIn } from "./typed.js";

/** Whether it waits no longer: the rule of store/standing.py. */
function isClosed() {
  const { closing, signed, calls } = state.value;
  if (calls.some((/** @type {any} */ each) => each.is_open)) return false;
  if (closing) return closing.is_closed;
  const needed = page.value.study?.request.trainee ? ["summary", "letter"] : ["summary"];
  return needed.every((kind) => signed[kind]);
}

export function Closing() {
  const reason = typedIn(page.value.id, "closing", () => "");
  const closed = isClosed();
  const change = (/** @type {Event} */ event) => {
    event.preventDefault();
    if (say("set closed", { is_closed: !closed, reason: reason.value.trim() })) reason.value = "";
  };
  const { closing } = state.value;
  return html`<form class="closing" onSubmit=${change}>
    <h2>${closed ? "Closed" : "Waiting"}</h2>
    <p class="quiet">${closed ? "It stands in the list of closed studies." : "It closes by itself when its papers are signed and no call is open."}</p>
    ${closing?.reason ? html`<p class="mentor">${closing.reason}</p>` : null}
    <details><summary>${closed ? "open it again" : "close it without papers"}</summary>
      <label class="field">${closed ? "what is left to do" : "why, for instance: sent twice"}
        <input class="mentor" value=${reason.value} onInput=${(/** @type {any} */ event) => {
          reason.value = event.target.value;
        }} />
      </label>
      <p class="buttons"><button type="submit">${closed ? "open again" : "close"}</button></p>
      <p class="quiet">Nothing is deleted; Backspace takes it back.</p>
    </details>
  </form>`;
}
