// Summary and letter side by side as they will leave, living; before them what goes into them: corrections, exercise.

import { waiting } from "./acts.js";
import { Calls } from "./calls.js";
import { CausesFirst, isCovered, SaidFirst } from "./causes_first.js";
import { Caution } from "./caution.js";
import { Changes } from "./changes.js";
import { Corrections } from "./corrections.js";
import { Exercise, exerciseNow } from "./exercise.js";
import { Finding } from "./findings.js";
import { html, signal, useEffect } from "./html.js";
import { obey } from "./keys.js";
import { findingsOf, go, page, place, say, trouble } from "./model.js";
import { OwnFindings } from "./own_findings.js";
import { Paper } from "./papers.js";
import { hearStudy } from "./study_events.js";
import { Thread } from "./thread.js";
import { Urgency } from "./urgency.js";

const PAPERS = [
  ["summary", "Summary", "for the attending vet"],
  ["letter", "Letter", "for the trainee"],
];
/** Counts what changed a preview. */
const version = signal(0);
const changed = () => {
  version.value += 1;
};

/** What the engine says of the study as a whole: kept or overruled here. */
function StudyFindings() {
  const all = findingsOf("");
  if (all.length === 0) return null;
  const open = all.filter((each) => !each.decision).map((each) => each.criterion);
  return html`<section aria-label="Findings of the study as a whole">
    <h2>The study as a whole</h2>
    <ul class="findings">${all.map((each) => html`<${Finding} key=${each.criterion} item=${each} />`)}</ul>
    ${open.length > 1 ? html`<p class="buttons"><button onClick=${() => say("accept findings", { clip: "", criteria: open })}>keep all ${open.length}</button></p>` : null}
  </section>`;
}

export function LettersPlace() {
  const study = page.value?.id;
  useEffect(() => obey("papers", () => go("study", place.value.study)), []);
  useEffect(() => (study ? hearStudy(study, page.value.last_event ?? "") : undefined), [study]);
  useEffect(() => {
    if (waiting.value.length === 0) version.value += 1;
  }, [page.value?.last_entry, waiting.value.length]);
  if (!page.value) return html`<main class="letters loading"><p>${trouble.value || "Opening the study."}</p></main>`;
  return html`<main class="letters">
    <div class="before-signing" data-region tabindex="-1">
      ${
        isCovered()
          ? html`<${CausesFirst} />`
          : html`<${SaidFirst} /><${Changes} version=${version.value} />
            <${Corrections} version=${version.value} />`
      }
      <${OwnFindings} />
      <${StudyFindings} />
      <${Exercise} />
      <${Calls} />
      <${Urgency} />
      <${Thread} />
      <p class="quiet">Only what you decided stands in these papers. The summary is signed first: an animal waits for it. A signature is a locally entered name, not authenticated.</p>
      <${Caution} />
    </div>
    ${PAPERS.map(
      ([
        kind,
        title,
        whom,
      ]) => html`<${Paper} key=${kind} kind=${kind} title=${title} whom=${whom} version=${version.value} exercise=${exerciseNow}
      onSigned=${changed} />`,
    )}
  </main>`;
}
