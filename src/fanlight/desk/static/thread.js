// What practice and mentor say to each other about this case (requests for more images, replies, re-scans, notes), and
// what was signed, in the order in which it came.
import { newId, post, Told } from "./api.js";
import { Closing } from "./closing.js";
import { Choose } from "./drop.js";
import { html, useSignal } from "./html.js";
import { Intakes } from "./intake_line.js";
import { loadStudy, mentor, opened, page } from "./model.js";
import { typedIn } from "./typed.js";
import { day } from "./words.js";

const ASKS = "request for more images";
const RESCAN = "re-scan sent";
const KINDS = [ASKS, "reply", "note"]; // a re-scan says itself that it came

/** @param {any} message @param {any[]} all */
const answersTo = (message, all) => all.filter((each) => each.answers === message.id);

/** Where a message leads: from a re-scan to its pictures and to what asked for it, from a request to its re-scan. @param {{message: any, all: any[]}} props */
function Links({ message, all }) {
  const here = page.value.id;
  const asked = all.find((each) => each.id === message.answers);
  const rescans = answersTo(message, all).filter((each) => each.kind === RESCAN);
  const link = (/** @type {string} */ study, /** @type {string} */ words) =>
    study === here ? html`<span>${words}: this study</span>` : html`<a href=${`#/study/${study}`}>${words}</a>`;
  return html`<p class="links">
    ${asked ? html`<span>answers “${asked.words}” (${day(asked.at)})</span> ` : null}
    ${message.kind === RESCAN ? link(message.study, "its pictures") : null}
    ${message.kind === RESCAN && asked && asked.study !== message.study ? html` · ${link(asked.study, "the study that asked")}` : null}
    ${rescans.map((each) => html`<span key=${each.id}>answered: ${link(each.study, "re-scan")} (${day(each.at)}) </span>`)}
    ${message.kind === ASKS && rescans.length === 0 ? html`<strong>waits for a re-scan</strong>` : null}
  </p>`;
}

/** The other studies of the case. */
function Case() {
  const others = (page.value.thread ?? []).filter((/** @type {any} */ each) => each.id !== page.value.id);
  if (others.length === 0) return null;
  return html`<p>Studies of this case: ${others.map((/** @type {any} */ each, /** @type {number} */ n) => html`${n ? ", " : ""}<a key=${each.id} href=${`#/study/${each.id}`}>${each.title || "no name"}, ${day(each.made_at)}</a>`)}</p>`;
}

/** Messages and signatures in one row. @param {any[]} messages */
function inOrder(messages) {
  const signed = (page.value.documents ?? []).map((/** @type {any} */ each) => ({
    id: each.id,
    at: each.signed_at,
    kind: each.version > 1 ? `addendum to the ${each.kind}, version ${each.version}` : `${each.kind} signed`,
    author: each.author,
    words: "",
    answers: "",
  }));
  return [...messages, ...signed].sort((a, b) => Date.parse(a.at) - Date.parse(b.at));
}

export function Thread() {
  const study = page.value.id;
  const kind = typedIn(study, "message kind", () => KINDS[0]);
  const words = typedIn(study, "message", () => "");
  const answers = typedIn(study, "message answers", () => "");
  const id = typedIn(study, "message id", newId); // of the message that is being written
  const why = useSignal("");
  const all = /** @type {any[]} */ (page.value.messages ?? []);
  const send = async (/** @type {Event} */ event) => {
    event.preventDefault();
    if (!words.value.trim()) return;
    if (!mentor.value.trim()) {
      opened.value = "name";
      return;
    }
    const body = {
      id: id.value,
      author: mentor.value.trim(),
      kind: kind.value,
      words: words.value.trim(),
      answers: kind.value === "reply" ? answers.value : "",
    };
    try {
      await post(`/api/studies/${study}/messages`, body);
      id.value = newId();
      words.value = "";
      answers.value = "";
      why.value = "";
      await loadStudy(study);
    } catch (error) {
      why.value = error instanceof Error ? error.message : String(error);
      if (error instanceof Told && error.status < 500) id.value = newId(); // refused: what comes next is another message
    }
  };
  return html`<section class="thread" aria-label="Thread of the case">
    <h2>Thread of the case</h2>
    <${Case} />
    <ul>
      ${inOrder(all).map(
        (each) => html`<li key=${each.id}>
          <span class="quiet">${each.kind} · ${each.author} · ${new Date(each.at).toLocaleString("en-GB", { dateStyle: "medium", timeStyle: "short" })}</span>
          ${each.words ? html`<p class=${each.kind === RESCAN ? "" : "mentor"}>${each.words}</p>` : null}
          <${Links} message=${each} all=${all} />
        </li>`,
      )}
    </ul>
    <form onSubmit=${send}>
      <label class="field">kind
        <select value=${kind.value} onChange=${(/** @type {any} */ event) => {
          kind.value = event.target.value;
        }}>
          ${KINDS.map((each) => html`<option key=${each} value=${each}>${each}</option>`)}
        </select>
      </label>
      ${
        kind.value === "reply" && all.length
          ? html`<label class="field">to
            <select value=${answers.value} onChange=${(/** @type {any} */ event) => {
              answers.value = event.target.value;
            }}>
              <option value="">the case</option>
              ${all.map((each) => html`<option key=${each.id} value=${each.id}>${each.words.slice(0, 60)}</option>`)}
            </select></label>`
          : null
      }
      <label class="field">words
        <textarea class="mentor" rows="2" value=${words.value} onInput=${(/** @type {any} */ event) => {
          words.value = event.target.value;
        }}></textarea>
      </label>
      ${why.value ? html`<p class="caution" role="alert">${why.value}</p>` : null}
      <p class="buttons"><button type="submit">put it on the thread</button></p>
    </form>
    <p class="rescan">The re-scan came? <${Choose} parent=${() => page.value.id} /></p>
    <${Intakes} of=${page.value.id} />
    <${Closing} />
  </section>`;
}
