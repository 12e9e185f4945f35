// One paper: as it will leave, the mentor's first and last words, the signature, and every version that was signed.
import { settled } from "./acts.js";
import { newId, post, Told } from "./api.js";
import { WordsField } from "./field.js";
import { focusOnce } from "./focus.js";
import { html, useSignal } from "./html.js";
import { LivingPreview } from "./living_preview.js";
import { loadStudy, mentor, opened, page, say, state, told } from "./model.js";

/** Signed papers of a kind, the first version first. @param {string} kind @returns {any[]} */
const signedPapers = (kind) => (page.value.documents ?? []).filter((/** @type {any} */ each) => each.kind === kind);

/** @param {any} paper */
const when = (paper) => new Date(paper.signed_at).toLocaleString("en-GB", { dateStyle: "medium", timeStyle: "short" });

/** @param {{paper: any, stands: boolean}} props */
function Version({ paper, stands }) {
  return html`<li class=${stands ? "stands" : "replaced"}>
    <p><strong>version ${paper.version}</strong> ${stands ? "stands" : `replaced by version ${paper.version + 1}`} · <span class="mentor">${paper.author}</span>, ${when(paper)}</p>
    ${(paper.parts ?? []).map((/** @type {any} */ part) => {
      const address = `/api/documents/${paper.id}/${part.name}`;
      return html`<p key=${part.name} class="part"><a href=${address} target="_blank" rel="noopener">${part.name}</a>
        <a href=${address} download=${part.name} aria-label=${`save ${part.name}, version ${paper.version}`}>save</a>
        <code class="hash">${part.sha256}</code></p>`;
    })}
  </li>`;
}

/** @param {{kind: string, isNew: boolean}} props `isNew`: it was signed just now, here */
function Versions({ kind, isNew }) {
  const papers = signedPapers(kind);
  const newest = papers.at(-1);
  if (!newest) return null;
  return html`<details key=${newest.id} class="versions">
    <summary class="mentor signed" ref=${isNew ? focusOnce : null}>signed by ${newest.author}, version ${newest.version}${papers.length > 1 ? ` of ${papers.length}` : ""}, ${when(newest)}</summary>
    <ol>${papers.toReversed().map((each) => html`<${Version} key=${each.id} paper=${each} stands=${each === newest} />`)}</ol>
    <p class="quiet">The long number is the SHA-256 of the saved file: <code>sha256sum FILE</code> must say the same. A name was entered here, nobody has proved it.</p>
  </details>`;
}

/** Asks once: what is signed is frozen. @param {{kind: string, why: string, isBusy: boolean, onSign: () => void, onLeave: () => void}} props */
function Asking({ kind, why, isBusy, onSign, onLeave }) {
  const n = signedPapers(kind).length;
  return html`<form class="asking" aria-label=${`Signature of the ${kind}`} onSubmit=${(/** @type {Event} */ event) => {
    event.preventDefault();
    onSign();
  }}>
    <p>${n ? `It becomes version ${n + 1} and replaces the one before, which stays readable.` : "It is frozen as it stands; what you add later is an addendum."}</p>
    ${why ? html`<p class="caution" role="alert">${why}</p>` : null}
    <p class="buttons"><button type="submit" class="sign" disabled=${isBusy} ref=${focusOnce}>${isBusy ? "signing" : `sign as ${mentor.value.trim()}`}</button>
      <button type="button" disabled=${isBusy} onClick=${onLeave}>not yet</button></p>
  </form>`;
}

/** The mentor's first and last words. @param {{kind: string}} props */
function Words({ kind }) {
  const textOf = (/** @type {string} */ part) =>
    state.value.texts.find((/** @type {any} */ each) => each.document === kind && each.part === part)?.text ?? "";
  const edit = (/** @type {string} */ part, /** @type {string} */ text) =>
    say("edit text", { document: kind, part, text: text || null });
  return html`<div class="own-words">
    ${["opening", "closing"].map(
      (part) => html`<label key=${part} class="field">your ${part} words
        <${WordsField} study=${page.value.id} name=${`${kind} ${part}`} class="mentor" rows=${2} value=${textOf(part)} onSaid=${(/** @type {string} */ text) => edit(part, text)} />
      </label>`,
    )}
  </div>`;
}

/** @param {{kind: string, title: string, whom: string, version: number, exercise: () => any, onSigned: () => void}} props */
export function Paper({ kind, title, whom, version, exercise, onSigned }) {
  const why = useSignal("");
  const isBusy = useSignal(false);
  /** How the form was left here: the keyboard goes on from what stands in its place. */
  const left = useSignal(/** @type {"" | "signed" | "not yet"} */ (""));
  /** What the open form signs: its identifier, and the newest version that its page showed. */
  const asked = useSignal(/** @type {{id: string, supersedes: string} | null} */ (null));
  const paper = signedPapers(kind).at(-1) ?? null;
  const begin = () => {
    asked.value = { id: newId(), supersedes: signedPapers(kind).at(-1)?.id ?? "" };
  };
  const sign = async () => {
    if (!asked.value) return;
    isBusy.value = true;
    why.value = "";
    try {
      await settled();
      const body = {
        ...asked.value,
        author: mentor.value.trim(),
        kind,
        exercise: kind === "letter" ? exercise() : null,
      };
      await post(`/api/studies/${page.value.id}/sign`, body);
      told.value = body.supersedes ? `The addendum to the ${kind} is signed.` : `The ${kind} is signed.`;
      left.value = "signed";
      asked.value = null;
      await loadStudy(page.value.id);
      onSigned();
    } catch (error) {
      why.value = error instanceof Error ? error.message : String(error);
      if (error instanceof Told && error.status < 500) {
        await loadStudy(page.value.id); // refused, perhaps since a newer version stands
        if (asked.value) begin();
      } // else it may have been signed: the same identifier goes again, and counts once
    }
    isBusy.value = false;
  };
  const ask = () => {
    why.value = "";
    if (mentor.value.trim()) begin();
    else opened.value = "name";
  };
  return html`<section class="paper" aria-label=${title} data-region tabindex="-1">
    <header>
      <h2>${title}</h2>
      ${paper ? html`<${Versions} kind=${kind} isNew=${left.value === "signed"} />` : html`<p class="quiet">${whom} · not signed</p>`}
      ${asked.value ? null : html`<button class="sign" ref=${left.value === "not yet" ? focusOnce : null} onClick=${ask}>${paper ? "sign an addendum" : `sign the ${kind}`}</button>`}
    </header>
    ${
      asked.value
        ? html`<${Asking} kind=${kind} why=${why.value} isBusy=${isBusy.value} onSign=${sign} onLeave=${() => {
            left.value = "not yet";
            asked.value = null;
          }} />`
        : null
    }
    <${Words} kind=${kind} />
    ${paper ? html`<p class="quiet">Below: what an addendum would be. What was signed does not change.</p>` : null}
    ${
      page.value.review
        ? html`<${LivingPreview} key=${page.value.id} study=${page.value.id} kind=${kind} version=${version} />`
        : html`<p class="quiet">It can be drafted when the first clip was read.</p>`
    }
  </section>`;
}
