// What is on its way in: how far it is, and the fate of each file.
import { html } from "./html.js";
import { forget, intakes, sendAgain } from "./upload.js";
import { bytes, count } from "./words.js";

/** @param {{intake: import("./upload.js").Intake}} props */
function IntakeLine({ intake }) {
  const done = intake.files.filter((each) => each.fate === "received").length;
  const refused = intake.files.filter((each) => each.fate === "refused");
  const leftOut = intake.files.filter((each) => each.fate === "left out");
  const mayGoAgain = intake.files.some((each) => each.mayGoAgain || (intake.why !== "" && each.fate === "waits"));
  const named = [...refused, ...leftOut];
  const size = intake.files.reduce((sum, each) => sum + each.size, 0);
  const [isOver, isStuck] = [intake.isDone || intake.why !== "", intake.waits !== ""];
  return html`<li class="intake">
    <p><strong>${intake.title}</strong>${intake.parent ? " (re-scan)" : ""} ${done} of ${count(intake.files.length - leftOut.length, "file")} received, ${bytes(size)}${refused.length ? html` · <span class="refused-count">${count(refused.length, "file")} refused</span>` : null}${leftOut.length ? ` · ${count(leftOut.length, "file")} left out` : ""}
      ${intake.isDone ? html` · <a href=${`#/study/${intake.id}`}>open</a>` : null}
      ${isOver && mayGoAgain ? html` <button class="small" onClick=${() => void sendAgain(intake.id)}>send again</button>` : null}
      ${isOver || isStuck ? html` <button class="small" onClick=${() => forget(intake.id)}>${isOver ? "hide" : "do not send it"}</button>` : null}</p>
    <progress max=${intake.files.length || 1} value=${done + named.length} aria-label=${`Files of ${intake.title}`}></progress>
    ${intake.waits ? html`<p class="caution" role="status">${intake.waits}</p>` : null}
    ${intake.why ? html`<p class="caution" role="alert">${intake.why}</p>` : null}
    <details open=${refused.length > 0}><summary>each file</summary>
      <ul class="fates">${[...named, ...intake.files.filter((each) => !named.includes(each))].map((each) => html`<li key=${each.name}><span>${each.name}</span> <span class="fate">${each.fate}</span>${each.why ? html` <span class="caution">${each.why}</span>` : null}</li>`)}</ul>
    </details>
  </li>`;
}

/** @param {{of?: string}} props `of`: only re-scans of this study; else all */
export function Intakes({ of = "" }) {
  const shown = intakes.value.filter((each) => !of || each.parent === of);
  if (shown.length === 0) return null;
  return html`<ul class="intakes" aria-label="On their way in">${shown.map((each) => html`<${IntakeLine} key=${each.id} intake=${each} />`)}</ul>`;
}
