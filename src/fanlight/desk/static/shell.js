// What stands around every place: who and where one is, what just happened, what could not be done.
import { isAway, isFault, isKept, isStranger, leaveOut, refused, send, waiting, whyNot } from "./acts.js";
import { AdviceButton, AdvicePanel } from "./advice.js";
import { EngineTrouble } from "./engine_trouble.js";
import { isListening } from "./events.js";
import { Fan } from "./fan.js";
import { FilesButton, FilesPanel } from "./files_panel.js";
import { focusOnce } from "./focus.js";
import { Help } from "./help.js";
import { html, useSignal } from "./html.js";
import { clips, go, meant, mentor, needsDecision, opened, page, place, theme, told, trouble } from "./model.js";
import { NumbersButton, NumbersPanel } from "./numbers_panel.js";
import { progress } from "./study_events.js";
import { takeBack } from "./take_back.js";
import { count } from "./words.js";

const LOGO = /** @type {import("./fan.js").RungState[]} */ (
  ["2-D", "colour", "PW", "CW"].map((rung) => [rung, "diagnostic"])
);
const NEXT_THEME = { room: "light", light: "dim", dim: "room" };
const THEME_WORDS = { room: "as the room", light: "light", dim: "dim" };

export function nextTheme() {
  theme.value = NEXT_THEME[/** @type {keyof typeof NEXT_THEME} */ (theme.value)] ?? "room";
  told.value = `Screen: ${THEME_WORDS[/** @type {keyof typeof THEME_WORDS} */ (theme.value)]}.`;
}

/** Who the animal is, in a line. */
function Whose() {
  const study = page.value?.study;
  if (!study) return html`<span class="whose"><h1>${page.value?.title ?? "Study"}</h1></span>`;
  const { identity, patient, request } = study;
  const facts = [
    patient.species,
    patient.breed,
    patient.weight_kg ? `${patient.weight_kg} kg` : "",
    identity.practice,
    request.trainee ? `trainee ${request.trainee}` : "",
  ];
  return html`<span class="whose"><h1>${identity.animal_name || page.value.title || "no name"}</h1> ${facts.filter(Boolean).join(" · ")}</span>
    <button class="small" onClick=${() => {
      opened.value = "sheet";
    }}>request sheet${request.missing.length ? `: ${request.missing.length} missing` : ""}</button>
    <${FilesButton} /><${NumbersButton} /><${AdviceButton} />`;
}

function Top() {
  const { name, study } = place.value;
  const open = clips.value.filter((each) => needsDecision(each.key)).length;
  return html`<header class="top">
    <a class="logo" href="#/" aria-label="Fanlight, waiting studies"><${Fan} title="Fanlight" states=${LOGO} quiet /></a>
    ${
      name === "waiting"
        ? html`<span class="whose">Fanlight</span>`
        : html`<${Whose} />
          <span class="left-over">${open ? `${count(open, "clip")} to decide` : clips.value.length ? "every clip is decided" : ""}</span>
          <button onClick=${() => go(name === "study" ? "letters" : "study", study)}>${name === "study" ? "letters" : "study"} <kbd>F8</kbd></button>
          <button onClick=${() => takeBack("undo")} disabled=${!meant.value.undo}>take back <kbd>⌫</kbd></button>`
    }
    <span class="gap"></span>
    <button class="quiet-button" onClick=${() => {
      opened.value = "name";
    }}>${mentor.value || "your name"}</button>
    <button class="quiet-button" onClick=${nextTheme} title="F9">${THEME_WORDS[/** @type {keyof typeof THEME_WORDS} */ (theme.value)]}</button>
    <button class="quiet-button" onClick=${() => {
      opened.value = "help";
    }} aria-label="keys">?</button>
  </header>`;
}

function NameForm() {
  const name = useSignal(mentor.value);
  const keepName = (/** @type {Event} */ event) => {
    event.preventDefault();
    if (!name.value.trim()) return;
    mentor.value = name.value.trim();
    opened.value = "";
    told.value = `Decisions are now by ${mentor.value}.`;
  };
  return html`<div class="panel name" role="dialog" aria-label="Your name"><form onSubmit=${keepName}>
    <h2>Who is deciding?</h2>
    <p>The name stands beside everything you say, and under what you sign. It is kept in this browser; nobody checks it.</p>
    <label class="field">your name<input class="mentor" required ref=${focusOnce} value=${name.value} onInput=${(
      /** @type {any} */ event,
    ) => {
      name.value = event.target.value;
    }} /></label>
    <p class="buttons"><button type="submit">go on</button><button type="button" onClick=${() => {
      opened.value = "";
    }}>leave <kbd>Esc</kbd></button></p>
  </form></div>`;
}

/** Why nothing is written down now, and where it waits meanwhile. */
function Lost() {
  const kept = count(waiting.value.length, "act");
  const why = isStranger.value
    ? "The desk was started anew and does not know this browser: open the address that it printed."
    : whyNot.value || "The desk's service does not answer.";
  let where = "What you do is kept in this browser and sent when it is back.";
  if (waiting.value.length > 0) where = `${kept} kept in this browser, sent again by itself.`;
  if (!isKept.value) where = `${kept} kept in this page alone: leave it open until all is sent.`;
  return html`<p class="caution away" role="status">${why} ${where}
    <button class="small" onClick=${() => void send()}>try now</button>
    ${isFault.value ? html` <button class="small" onClick=${() => void leaveOut()}>leave it out: ${waiting.value[0]?.action}</button>` : null}</p>`;
}

/** The last line: what just happened, and what the service is at. Above it, only what must be read. */
function Words() {
  const isLost = isAway.value || !isListening.value;
  return html`<footer class="foot">
    ${refused.value.map(
      (each, n) => html`<p key=${n} class="caution" role="alert">Not done (${each.act.action}): ${each.why}
        <button class="small" onClick=${() => {
          refused.value = refused.value.filter((_, k) => k !== n);
        }}>I have read it</button></p>`,
    )}
    ${trouble.value && page.value ? html`<p class="caution" role="alert">${trouble.value}</p>` : null}
    ${place.value.name === "waiting" ? null : html`<${EngineTrouble} />`}
    ${isLost ? html`<${Lost} />` : null}
    <p class="status-line"><span class="told" role="status" aria-live="polite">${told.value}</span><span class="gap"></span><span class="quiet">${progress.value}</span><span class="quiet"><kbd>?</kbd> shows all keys</span></p>
  </footer>`;
}

/** @param {{children: any}} props */
export function Shell({ children }) {
  return html`<${Top} />
    ${children}
    <${Words} />
    ${opened.value === "name" ? html`<${NameForm} />` : null}
    ${opened.value === "advice" && page.value ? html`<${AdvicePanel} />` : null}
    ${opened.value === "files" && page.value ? html`<${FilesPanel} />` : null}
    ${opened.value === "numbers" && page.value ? html`<${NumbersPanel} />` : null}
    ${opened.value === "help" ? html`<${Help} />` : null}`;
}
