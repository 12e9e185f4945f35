// One study of the list: whose it is, its path, how far it is, what waits and what the last letter asked for.
import { takesFiles } from "./drop.js";
import { Fan } from "./fan.js";
import { html, useSignal } from "./html.js";
import { age, count, day } from "./words.js";

/** @param {any} study */
function stateWords(study) {
  const refused = study.n_refused ? ` · ${count(study.n_refused, "file")} refused` : "";
  return readWords(study) + refused;
}

/** @param {any} study */
function readWords(study) {
  if (study.state === "failed") return "could not be read";
  if (study.n_clips === 0) return study.n_files ? `${count(study.n_files, "file")} received` : "no file yet";
  if (study.n_read < study.n_clips || study.state === "reading") return `reading ${study.n_read} of ${study.n_clips}`;
  return `read ${study.n_read} of ${study.n_clips}`;
}

/** What the mentor said became of it; what nobody said anything about is asked. @param {any} last @param {Record<string, string>} said by point */
function answered(last, said) {
  /** @type {string[][]} */
  const points = [
    ...last.changes.map((/** @type {any} */ each) => [`cause:${each.cause}`, each.title]),
    ...last.corrections.map((/** @type {any} */ each) => [`${each.criterion}:${each.side}`, each.title]),
  ];
  if (last.exercise) points.push(["exercise", "exercise"]);
  const words = points.filter(([about]) => said[about]).map(([about, title]) => `${title}: ${said[about]}`);
  const n = points.length - words.length;
  const open = n === 0 ? "" : words.length ? `${count(n, "point")} to say` : "done? mended?";
  return html`<span class="mentor">${words.join(" · ")}</span> <span class="quiet">${open}</span>`;
}

/** @param {{last: any, said: Record<string, string>}} props */
function LastLetter({ last, said }) {
  const asked = [...last.changes, ...last.corrections].map((/** @type {any} */ each) => each.title).join(" · ");
  const exercise = last.exercise ? `${last.exercise.repetitions} × ${last.exercise.look_for}` : "";
  return html`<p class="more">last letter, ${day(last.signed_at)}: <span class="mentor">${asked || "no correction"}</span>
    ${exercise ? html` · exercise: <span class="mentor">${exercise}</span>` : null} ${answered(last, said)}</p>`;
}

/** What the study answers, and what it waits for. @param {{study: any}} props */
function Rescans({ study }) {
  const of = study.rescan_of;
  return html`${of ? html`<p class="more">re-scan for <a href=${`#/study/${of.id}`}>${of.title || "an earlier study"}</a>, ${day(of.made_at)}</p>` : null}
    ${study.waits_for_rescan.map(
      (
        /** @type {any} */ each,
      ) => html`<p key=${each.id} class="more waits">waits for a re-scan, asked for on ${day(each.at)} by ${each.author}: <q class="mentor">${each.words}</q>
        <span class="quiet"> · drop it on this line</span></p>`,
    )}`;
}

/** @param {{study: any, isChosen: boolean, onChosen: () => void}} props */
export function Line({ study, isChosen, onChosen }) {
  const isOver = useSignal(false);
  const animal = [
    study.animal || study.title || "no name",
    study.species,
    study.weight_kg ? `${study.weight_kg} kg` : "",
  ].filter(Boolean);
  const takes = study.waits_for_rescan.length ? takesFiles(isOver, () => study.id) : {};
  return html`<li class=${`line ${study.urgent ? "urgent" : ""} ${isChosen ? "chosen" : ""} ${isOver.value ? "over" : ""}`} ...${takes}>
    ${study.urgent ? html`<p class="urgent-words">urgent · said by the ${study.urgent.by}${study.urgent.words ? html`: <q>${study.urgent.words}</q>` : null}</p>` : null}
    <a href=${`#/study/${study.id}`} onFocus=${onChosen}>
      <span class="animal"><strong>${animal[0]}</strong> ${animal.slice(1).join(" ")}${study.examined_at ? html`<span class="examined">examined ${day(study.examined_at)}</span>` : null}</span>
      <span class="practice">${study.practice || "practice not stated"}</span>
      <time datetime=${study.received_at}>${age(study.received_at)}</time>
      <span class="fans" role="group" aria-label=${`Path of ${animal[0]}`}>
        ${study.path.map((/** @type {any} */ step) => html`<${Fan} key=${step.step} title=${step.title} states=${step.states} clipsWait=${study.n_unplaced > 0} />`)}
        ${study.n_unplaced ? html`<span class="quiet">+ ${study.n_unplaced} not placed</span>` : null}
      </span>
      <span class="state">${stateWords(study)}</span>
    </a>
    <${Rescans} study=${study} />
    ${study.last_letter ? html`<${LastLetter} last=${study.last_letter} said=${study.said_of_last_letter} />` : null}
  </li>`;
}
