// Measurements before anything is written: all of the study in a panel, those of a clip beside it.
import { Caution } from "./caution.js";
import { html } from "./html.js";
import { IntervalDrawing } from "./interval.js";
import { choose, clips, go, opened, page, place, readingOf } from "./model.js";
import { NamedForm } from "./named_form.js";
import {
  byHand,
  countWords,
  ENGINE,
  isBound,
  limitsOf,
  meaning,
  namesWords,
  parts,
  saidAndMore,
  sinceWords,
  standing,
  togetherWords,
  told,
  valueWords,
} from "./numbers.js";
import { valveOf } from "./placing.js";
import { capital, MODE_WORDS } from "./words.js";

/** @returns {any[]} */
const all = () => page.value?.review?.measurements ?? [];

/** How a quantity is written. @param {string} label */
const written = (label) => page.value?.words?.quantities?.[label] ?? label;

const open = () => {
  opened.value = "numbers";
};

export function NumbersButton() {
  if (!page.value?.review) return null;
  return html`<button class="small" onClick=${open}>${countWords(all())}</button>`;
}

/** What a row of the tables says of a number. @param {{item: any, reading: any}} props */
function Said({ item, reading }) {
  const limits = limitsOf(item, reading);
  const [first, more] = saidAndMore(reading);
  return html`<div class="said">
    ${limits ? html`<${IntervalDrawing} item=${item} limits=${limits} words=${reading.words} />` : null}
    ${more ? html`<details class="house"><summary>${first}</summary>${more}</details>` : html`<span class="house">${first}</span>`}
  </div>`;
}

/** @param {{item: any, labels: string[], note: string}} props */
function Row({ item, labels, note }) {
  const { said, none } = meaning(item);
  const how = item.given_by === ENGINE && item.value !== null ? item.reason || item.method : "";
  return html`<tr>
      <th scope="row">${namesWords(labels.map(written))}${item.given_by === ENGINE || !item.clip ? null : html` <${OfClip} name=${item.clip} />`}</th>
      <td class="value"><span>${valueWords(item)}</span><span class="standing">${standing(item)}</span>${item.kept ? html`<span class="standing">${item.kept}</span>` : null}</td>
      <td>
        ${item.value === null ? html`<span class="engine">${capital(item.reason)}.</span>` : null}
        ${said.map((/** @type {any} */ each) => html`<${Said} key=${each.row} item=${item} reading=${each} />`)}
        ${sinceWords(page.value?.review, item).map((each) => html`<p key=${each} class="since engine">${each}</p>`)}
        <span class="quiet">${none ? `No reference applies: ${none}. ` : ""}${how ? `${capital(how)}.` : ""}</span>
      </td>
    </tr>
    ${note ? html`<tr class="note"><td colspan="3"><span class="quiet">note</span> ${note}</td></tr>` : null}`;
}

/** The clip of a number; a press puts it on the stage. @param {{name: string}} props */
function OfClip({ name }) {
  const clip = clips.value.find((each) => each.name === name || each.name.endsWith(`/${name}`));
  if (!clip) return html`<span class="quiet">${name}</span>`;
  const show = () => {
    if (place.value.name !== "study") go("study", page.value.id);
    choose(clip.key);
    opened.value = "";
  };
  return html`<button class="small" onClick=${show}>clip ${clip.number}</button>`;
}

/** What a strip shows, as it is placed now. @param {string} name */
function shows(name) {
  const key = clips.value.find((each) => each.name === name)?.key;
  if (!key) return "";
  const valve = valveOf(key);
  return [MODE_WORDS[readingOf(key)?.mode?.mode], valve ? `${valve} valve` : ""].filter(Boolean).join(" · ");
}

/** @param {{part: import("./numbers.js").Part}} props */
function Numbers({ part }) {
  return html`<section aria-label=${capital(part.title)}>
    <h3>${capital(part.title)}</h3>
    <table class="numbers">
      <thead><tr><th scope="col">quantity</th><th scope="col">value</th><th scope="col">what it means, and by which source</th></tr></thead>
      ${part.groups.map(
        (group) => html`<tbody key=${group.title}>
          <tr class="whose"><th scope="rowgroup" colspan="3">${group.clip ? html`<${OfClip} name=${group.clip} /> ${shows(group.clip)}` : group.title}</th></tr>
          ${told(group.rows).map((row, n) => html`<${Row} key=${n} ...${row} />`)}
        </tbody>`,
      )}
    </table>
  </section>`;
}

/** What the numbers mean together: discordances, change, stages. */
function Together() {
  const meaning = page.value?.review?.meaning;
  const said = togetherWords(meaning);
  if (said.length === 0) return null;
  return html`<section class="together" aria-label="What the numbers mean together">
    <h3>What the numbers mean together</h3>
    <ul>${said.map((each) => html`<li key=${each} class="engine">${each}</li>`)}</ul>
  </section>`;
}

export function NumbersPanel() {
  const found = parts(all());
  return html`<div class="panel numbers" role="dialog" aria-label="Measurements of the study">
    <h2>Measurements of the study</h2>
    ${found.length ? null : html`<p class="engine">None came with the study, and the engine measured none.</p>`}
    ${page.value.engine.state === "idle" ? null : html`<p class="quiet" role="status">The engine is reading: numbers may change.</p>`}
    ${all().some((each) => each.sheet_only && each.value !== null) ? html`<p class="caution">Some of what the engine reads off strips and pictures, or works out from marks, stays on the desk and enters no summary: it was not right often enough, on enough animals that nobody tuned it on.</p>` : null}
    ${page.value.review.meaning?.changes?.length ? html`<p class="caution">Beside a number stands what it was at an earlier visit. Treatment, body weight, growth, heart rate, breathing, sedation, another hand and another machine move these numbers too, and of twenty that did not change about one is marked. Whether the heart changed, and what that means, the veterinarian decides.</p>` : null}
    ${found.map((part) => html`<${Numbers} key=${part.title} part=${part} />`)}
    <${Together} />
    <${NamedForm} />
    <${Caution} />
    <p class="buttons"><button onClick=${() => {
      opened.value = "";
    }}>close <kbd>Esc</kbd></button></p>
  </div>`;
}

/** What the engine measured on the clip on the stage, in lines; why, where it measured nothing. @param {{clip: any}} props */
export function ClipNumbers({ clip }) {
  const mine = all().filter((each) => each.given_by === ENGINE && each.clip === clip.name);
  if (mine.length === 0) return null;
  const rows = told(mine);
  const hands = new Map(byHand(all(), clip.name).map((each) => [each.name, each]));
  const [{ item: first }] = rows;
  if (rows.length === 1 && first.value === null)
    return html`<p class="clip-numbers engine">${/^not /.test(first.reason) ? capital(first.reason) : `Not measured: ${first.reason}`}.</p>`;
  return html`<section class="clip-numbers" aria-label="Measured on this clip">
    <h3>Measured by the engine</h3>
    <ul>${rows.map(
      ({ item, labels }, n) => html`<li key=${n}>
        <span>${namesWords(labels.map(written))}</span>
        <span class="value">${isBound(item) ? `${standing(item)} ` : ""}${valueWords(item)}</span>
        ${item.value === null ? html`<span class="why quiet">${capital(item.reason)}.</span>` : null}
        ${hands.has(item.name) ? html`<span class="why mentor">${hands.get(item.name).sheet_only ? "With what was marked by hand" : "Marked by hand"} ${valueWords(hands.get(item.name))}, which counts.</span>` : null}
      </li>`,
    )}</ul>
    <button class="small" onClick=${open}>what they mean, and all measurements</button>
  </section>`;
}
