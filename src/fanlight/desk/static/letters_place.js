// Summary and letter side by side as they will leave, living; the exercise; calls; signatures, the summary first.

import { settled, waiting } from "./acts.js";
import { newId, post } from "./api.js";
import { Calls } from "./calls.js";
import { Corrections } from "./corrections.js";
import { Finding } from "./findings.js";
import { html, signal, useEffect, useSignal } from "./html.js";
import { obey } from "./keys.js";
import { findingsOf, go, loadStudy, mentor, opened, page, place, say, state, titleOf, told, trouble } from "./model.js";
import { hearStudy } from "./study_events.js";
import { Thread } from "./thread.js";
import { Urgency } from "./urgency.js";

const PAPERS = [
  ["summary", "Summary", "for the attending vet"],
  ["letter", "Letter", "for the trainee"],
];
/** Counts what changed a preview. */
const version = signal(0);

/** The newest signed paper of a kind. @param {string} kind */
function signedPaper(kind) {
  return (page.value.documents ?? []).filter((/** @type {any} */ each) => each.kind === kind).at(-1) ?? null;
}

/** As it will leave; a page of its own rules, which may run nothing. @param {{kind: string}} props */
function Preview({ kind }) {
  if (!page.value.review) return html`<p class="quiet">It can be drafted when the first clip was read.</p>`;
  const address = `/api/studies/${page.value.id}/letter?kind=${kind}&version=${version.value}`;
  return html`<iframe sandbox="" title=${`Preview of the ${kind}`} src=${address}></iframe>`;
}

/** @param {{kind: string, title: string, whom: string, exercise: any}} props */
function Paper({ kind, title, whom, exercise }) {
  const why = useSignal("");
  const isBusy = useSignal(false);
  const paper = signedPaper(kind);
  const sign = async () => {
    if (!mentor.value.trim()) {
      opened.value = "name";
      return;
    }
    isBusy.value = true;
    why.value = "";
    try {
      await settled();
      const body = {
        id: newId(),
        author: mentor.value.trim(),
        kind,
        exercise: kind === "letter" ? exercise() : null,
        supersedes: paper?.id ?? "",
      };
      await post(`/api/studies/${page.value.id}/sign`, body);
      told.value = `The ${kind} is signed.`;
      await loadStudy(page.value.id);
      version.value += 1;
    } catch (error) {
      why.value = error instanceof Error ? error.message : String(error);
    }
    isBusy.value = false;
  };
  return html`<section class="paper" aria-label=${title} data-region tabindex="-1">
    <header>
      <h2>${title}</h2>
      ${paper ? html`<p class="mentor signed">signed by ${paper.author}, version ${paper.version}${(paper.parts ?? []).map((/** @type {any} */ each) => html` <a key=${each.name} href=${`/api/documents/${paper.id}/${each.name}`} target="_blank" rel="noopener">${each.name}</a>`)}</p>` : html`<p class="quiet">${whom} · not signed</p>`}
      <button class="sign" disabled=${isBusy.value} onClick=${sign}>${paper ? "sign an addendum" : `sign the ${kind}`}</button>
    </header>
    ${why.value ? html`<p class="caution" role="alert">${why.value}</p>` : null}
    <${Words} kind=${kind} />
    <${Preview} kind=${kind} />
  </section>`;
}

/** The mentor's first and last words. @param {{kind: string}} props */
function Words({ kind }) {
  const textOf = (/** @type {string} */ part) =>
    state.value.texts.find((/** @type {any} */ each) => each.document === kind && each.part === part)?.text ?? "";
  const edit = (/** @type {string} */ part, /** @type {string} */ text) => {
    if (text !== textOf(part)) say("edit text", { document: kind, part, text: text || null });
  };
  return html`<div class="own-words">
    ${["opening", "closing"].map(
      (part) => html`<label key=${part} class="field">your ${part} words
        <textarea class="mentor" rows="2" value=${textOf(part)} onChange=${(/** @type {any} */ event) => edit(part, event.target.value.trim())}></textarea>
      </label>`,
    )}
  </div>`;
}

/** @param {{form: any}} props */
function Exercise({ form }) {
  const change = (/** @type {string} */ name) => (/** @type {any} */ event) => {
    form.value = { ...form.value, [name]: event.target.value };
  };
  const views = Object.keys(page.value.plan.views);
  return html`<fieldset class="exercise">
    <legend>Next exercise, part of signing the letter</legend>
    <label class="field">view
      <select value=${form.value.view} onChange=${change("view")}>
        <option value="">choose</option>
        ${views.map((each) => html`<option key=${each} value=${each}>${titleOf(each)}</option>`)}
      </select>
    </label>
    <label class="field">what to look for<input class="mentor" value=${form.value.look_for} onInput=${change("look_for")} /></label>
    <label class="field short">how often<input type="number" min="1" value=${form.value.repetitions} onInput=${change("repetitions")} /></label>
    <label class="field short">by<input type="date" value=${form.value.due} onInput=${change("due")} /></label>
  </fieldset>`;
}

/** @param {any} form @returns {any} null while it is not filled in */
function exerciseOf(form) {
  const { view, look_for, repetitions, due } = form.value;
  if (!view || !look_for.trim()) return null;
  return { view, look_for: look_for.trim(), repetitions: Math.max(1, Number(repetitions) || 1), due: due || null };
}

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
  const said = page.value?.state?.exercise;
  const form = useSignal({ view: "", look_for: "", repetitions: 10, due: "" });
  const study = page.value?.id;
  useEffect(() => {
    if (said)
      form.value = { view: said.view, look_for: said.look_for, repetitions: said.repetitions, due: said.due ?? "" };
  }, [study]);
  useEffect(() => obey("papers", () => go("study", place.value.study)), []);
  useEffect(() => (study ? hearStudy(study, page.value.last_event ?? "") : undefined), [study]);
  useEffect(() => {
    if (waiting.value.length === 0) version.value += 1;
  }, [page.value?.last_entry, waiting.value.length]);
  if (!page.value) return html`<main class="letters loading"><p>${trouble.value || "Opening the study."}</p></main>`;
  return html`<main class="letters">
    <div class="before-signing" data-region tabindex="-1">
      <${Urgency} />
      <${Calls} />
      <${StudyFindings} />
      <${Corrections} />
      <${Exercise} form=${form} />
      <${Thread} />
      <p class="quiet">Only what you decided stands in these papers. The summary is signed first: an animal waits for it. A signature is a locally entered name, not authenticated.</p>
    </div>
    ${PAPERS.map(([kind, title, whom]) => html`<${Paper} key=${kind} kind=${kind} title=${title} whom=${whom} exercise=${() => exerciseOf(form)} />`)}
  </main>`;
}
