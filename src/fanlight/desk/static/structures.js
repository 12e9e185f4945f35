// By the mentor's own eye: valves, chambers, pericardium, great vessels. Not assessed until somebody says otherwise.
import { WordsField } from "./field.js";
import { html, useSignal } from "./html.js";
import { page, say, state } from "./model.js";

const JUDGEMENTS = ["normal", "abnormal", "not assessed"];

/** @param {{name: string}} props */
function Row({ name }) {
  const said = state.value.structures[name];
  const now = said?.judgement ?? "not assessed";
  const judge = (/** @type {string} */ judgement, words = said?.words ?? "") =>
    say("judge structure", { structure: name, judgement, words });
  return html`<fieldset class=${`structure ${now.replace(" ", "-")}`}>
    <legend>${name}</legend>
    ${JUDGEMENTS.map(
      (each) => html`<label key=${each}>
        <input type="radio" name=${name} checked=${now === each} onChange=${() => judge(each)} /><span>${each}</span>
      </label>`,
    )}
    ${
      now === "abnormal"
        ? html`<${WordsField} study=${page.value.id} name=${name} class="mentor words" aria-label=${`What is abnormal: ${name}`} placeholder="in your words" value=${said?.words ?? ""} onSaid=${(/** @type {string} */ words) => judge("abnormal", words)} />`
        : null
    }
  </fieldset>`;
}

export function Structures() {
  const isOpen = useSignal(false);
  /** @type {{title: string, names: string[]}[]} the names are those of the log */
  const groups = page.value?.words?.structures ?? [];
  const nAll = groups.reduce((sum, group) => sum + group.names.length, 0);
  const n = Object.values(state.value.structures).filter((each) => each.judgement !== "not assessed").length;
  return html`<details class="structures" open=${isOpen.value} onToggle=${(/** @type {any} */ event) => {
    isOpen.value = event.target.open;
  }}>
    <summary>judged by your eye: ${n ? `${n} of ${nAll}` : "nothing assessed yet"}</summary>
    ${
      isOpen.value
        ? groups.map(
            ({ title, names }) =>
              html`<section key=${title}><h3>${title}</h3>${names.map((name) => html`<${Row} key=${name} name=${name} />`)}</section>`,
          )
        : null
    }
  </details>`;
}
