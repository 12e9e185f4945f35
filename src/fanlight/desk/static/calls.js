// An urgent finding: whom was called, when, what was said, and that it was understood. A study cannot close without it.
import { newId } from "./api.js";
import { html } from "./html.js";
import { page, say, state, told } from "./model.js";
import { typedIn } from "./typed.js";

/** Open a call for a finding, in words. */
export function callFor(/** @type {string} */ finding) {
  const isOpen = state.value.calls.some((/** @type {any} */ each) => each.finding === finding && each.is_open);
  if (isOpen) told.value = "A call is open for it already: see the letters.";
  else if (say("open call", { call: newId(), finding }))
    told.value = "A call is open: nothing is signed until it was made and understood.";
  return !isOpen;
}

/** Now, as a field of local time holds it. */
function nowLocal() {
  const now = new Date();
  return new Date(now.getTime() - 60_000 * now.getTimezoneOffset()).toISOString().slice(0, 16);
}

/** @param {{call: any}} props */
function Call({ call }) {
  const field = (/** @type {string} */ name) => typedIn(page.value.id, `call ${call.call} ${name}`, () => "");
  const [whom, said, answer] = [field("whom"), field("said"), field("answer")];
  const at = field("at"); // "": now
  const record = (/** @type {Event} */ event) => {
    event.preventDefault();
    if (!whom.value.trim() || !said.value.trim()) return;
    const isSaid = say("record call", {
      call: call.call,
      whom: whom.value.trim(),
      called_at: new Date(at.value || Date.now()).toISOString(),
      said: said.value.trim(),
    });
    if (!isSaid) return; // a name is asked for first
    for (const each of [whom, said, at]) each.value = "";
  };
  const by = call.made.at(-1)?.whom ?? "";
  return html`<li class=${`call ${call.is_open ? "open" : "done"}`}>
    <p class="mentor">${call.finding}</p>
    ${call.made.map((/** @type {any} */ each) => html`<p key=${each.called_at} class="mentor">${new Date(each.called_at).toLocaleString("en-GB", { dateStyle: "medium", timeStyle: "short" })}: ${each.whom}, “${each.said}”</p>`)}
    ${
      call.acknowledged
        ? html`<p class="quiet">understood, said by ${call.acknowledged.by_whom}${call.acknowledged.words ? html`: <span class="mentor">“${call.acknowledged.words}”</span>` : null}</p>`
        : html`<form onSubmit=${record}>
          <label class="field">whom you called<input class="mentor" value=${whom.value} onInput=${(
            /** @type {any} */ event,
          ) => {
            whom.value = event.target.value;
          }} /></label>
          <label class="field">when<input type="datetime-local" value=${at.value || nowLocal()} max=${nowLocal()} onInput=${(
            /** @type {any} */ event,
          ) => {
            at.value = event.target.value;
          }} /></label>
          <label class="field">what was said<input class="mentor" value=${said.value} onInput=${(
            /** @type {any} */ event,
          ) => {
            said.value = event.target.value;
          }} /></label>
          <p class="buttons"><button type="submit">write the call down</button></p>
          ${
            call.made.length
              ? html`<label class="field">what ${by} answered<input class="mentor" value=${answer.value} onInput=${(
                  /** @type {any} */ event,
                ) => {
                  answer.value = event.target.value;
                }} /></label>
              <p class="buttons"><button type="button" onClick=${() => say("acknowledge call", { call: call.call, by_whom: by, words: answer.value.trim() })}>${by} understood it</button></p>`
              : html`<p class="quiet">Open: nothing can be signed until the call was made and understood.</p>`
          }
        </form>`
    }
  </li>`;
}

export function Calls() {
  const words = typedIn(page.value.id, "call", () => "");
  const open = (/** @type {Event} */ event) => {
    event.preventDefault();
    if (words.value.trim() && callFor(words.value.trim())) words.value = "";
  };
  return html`<section class="calls" aria-label="Urgent findings and calls">
    <h2>Urgent findings</h2>
    <ul>${state.value.calls.map((/** @type {any} */ each) => html`<${Call} key=${each.call} call=${each} />`)}</ul>
    <form onSubmit=${open}>
      <label class="field">an urgent finding, somebody must be called<input class="mentor" value=${words.value} onInput=${(
        /** @type {any} */ event,
      ) => {
        words.value = event.target.value;
      }} /></label>
      <p class="buttons"><button type="submit">open a call</button></p>
    </form>
  </section>`;
}
