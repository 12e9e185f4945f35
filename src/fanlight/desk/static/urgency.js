// Urgent is what a practice or a mentor said, with who said it; never a machine.
import { html } from "./html.js";
import { page, say, state } from "./model.js";
import { typedIn } from "./typed.js";

export function Urgency() {
  const reason = typedIn(page.value.id, "urgency", () => "");
  const by = typedIn(page.value.id, "urgency said by", () => "mentor");
  const onSheet = page.value.study?.request.urgent
    ? { is_urgent: true, said_by: "practice", reason: "on the request sheet" }
    : null;
  const said = state.value.urgency ?? onSheet;
  const isUrgent = said?.is_urgent ?? false;
  const flag = (/** @type {Event} */ event) => {
    event.preventDefault();
    if (say("flag urgency", { is_urgent: !isUrgent, said_by: by.value, reason: reason.value.trim() }))
      reason.value = "";
  };
  return html`<form class="urgency" onSubmit=${flag}>
    <h2>${isUrgent ? "Urgent" : "How soon"}</h2>
    ${isUrgent ? html`<p>said by the ${said.said_by}${said.reason ? html`: <span class="mentor">${said.reason}</span>` : null}</p>` : null}
    <label class="field">${isUrgent ? "why it is urgent no longer" : "why it is urgent"}
      <input class="mentor" value=${reason.value} onInput=${(/** @type {any} */ event) => {
        reason.value = event.target.value;
      }} />
    </label>
    <label class="field short">said by
      <select value=${by.value} onChange=${(/** @type {any} */ event) => {
        by.value = event.target.value;
      }}><option value="mentor">you</option><option value="practice">the practice</option></select>
    </label>
    <p class="buttons"><button type="submit">${isUrgent ? "no longer urgent" : "flag as urgent"}</button></p>
  </form>`;
}
