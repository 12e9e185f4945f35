// The studies that wait: one line each, urgent ones first, oldest first. Drop a folder, a zip or files anywhere.
import { get } from "./api.js";
import { listenTo, seldom } from "./events.js";
import { FAN_KEY, Fan } from "./fan.js";
import { html, signal, useEffect, useSignal } from "./html.js";
import { obey } from "./keys.js";
import { go } from "./model.js";
import { forget, intakes, takeChosen, takeDrop } from "./upload.js";
import { age, bytes, count } from "./words.js";

const list = signal(/** @type {any} */ (null));
const why = signal("");
const chosen = signal("");
const isClosedShown = signal(false);

async function load(/** @type {string} */ after = "") {
  const base = isClosedShown.value ? "/api/closed" : "/api/waiting";
  try {
    const found = await get(after ? `${base}?after=${encodeURIComponent(after)}` : base);
    list.value = after ? { ...found, studies: [...list.value.studies, ...found.studies] } : found;
    why.value = "";
  } catch (error) {
    why.value = error instanceof Error ? error.message : String(error);
  }
}

/** @param {any} study */
function stateWords(study) {
  if (study.state === "failed") return "could not be read";
  if (study.n_clips === 0) return study.n_files ? `${count(study.n_files, "file")} received` : "no file yet";
  if (study.n_read < study.n_clips || study.state === "reading") return `reading ${study.n_read} of ${study.n_clips}`;
  return `read ${study.n_read} of ${study.n_clips}`;
}

/** @param {{last: any}} props */
function LastLetter({ last }) {
  const asked = last.corrections.map((/** @type {any} */ each) => each.title).join(" · ");
  const exercise = last.exercise ? `${last.exercise.repetitions} × ${last.exercise.look_for}` : "";
  return html`<p class="last-letter">last letter: <span class="mentor">${asked || "no correction"}</span>
    ${exercise ? html` · exercise: <span class="mentor">${exercise}</span>` : null} <span class="quiet">done? mended?</span></p>`;
}

/** @param {{study: any}} props */
function Line({ study }) {
  const animal = [
    study.animal || study.title || "no name",
    study.species,
    study.weight_kg ? `${study.weight_kg} kg` : "",
  ].filter(Boolean);
  const isChosen = chosen.value === study.id;
  return html`<li class=${`line ${study.urgent ? "urgent" : ""} ${isChosen ? "chosen" : ""}`}>
    ${study.urgent ? html`<p class="urgent-words">urgent · said by the ${study.urgent.by}${study.urgent.words ? html`: <q>${study.urgent.words}</q>` : null}</p>` : null}
    <a href=${`#/study/${study.id}`} onFocus=${() => {
      chosen.value = study.id;
    }}>
      <span class="animal"><strong>${animal[0]}</strong> ${animal.slice(1).join(" ")}</span>
      <span class="practice">${study.practice || "practice not stated"}</span>
      <time datetime=${study.received_at}>${age(study.received_at)}</time>
      <span class="fans" role="group" aria-label=${`Path of ${animal[0]}`}>
        ${study.path.map((/** @type {any} */ step) => html`<${Fan} key=${step.step} title=${step.title} states=${step.states} />`)}
        ${study.n_unplaced ? html`<span class="quiet">+ ${study.n_unplaced} not placed</span>` : null}
      </span>
      <span class="state">${stateWords(study)}</span>
    </a>
    ${study.last_letter ? html`<${LastLetter} last=${study.last_letter} />` : null}
  </li>`;
}

/** @param {{intake: import("./upload.js").Intake}} props */
function IntakeLine({ intake }) {
  const done = intake.files.filter((each) => each.fate === "received").length;
  const refused = intake.files.filter((each) => each.fate === "refused");
  const size = intake.files.reduce((sum, each) => sum + each.size, 0);
  return html`<li class="intake">
    <p><strong>${intake.title}</strong> ${done} of ${count(intake.files.length, "file")} received, ${bytes(size)}
      ${intake.isDone ? html` · <a href=${`#/study/${intake.id}`}>open</a> <button class="small" onClick=${() => forget(intake.id)}>hide</button>` : null}</p>
    <progress max=${intake.files.length || 1} value=${done + refused.length} aria-label=${`Files of ${intake.title}`}></progress>
    ${intake.why ? html`<p class="caution" role="alert">${intake.why}</p>` : null}
    <details><summary>each file</summary>
      <ul class="fates">${intake.files.map((each) => html`<li key=${each.name}><span>${each.name}</span> <span class="fate">${each.fate}</span>${each.why ? html` <span class="caution">${each.why}</span>` : null}</li>`)}</ul>
    </details>
  </li>`;
}

function choose(/** @type {number} */ by) {
  const all = list.value?.studies ?? [];
  const at = all.findIndex((/** @type {any} */ each) => each.id === chosen.value);
  const next = all[Math.min(Math.max(at + by, 0), all.length - 1)];
  if (!next) return;
  chosen.value = next.id;
  requestAnimationFrame(() => /** @type {HTMLElement | null} */ (document.querySelector(".line.chosen a"))?.focus());
}

function Drop() {
  return html`<p class="drop">
    <span>Drop a folder, a zip or files anywhere, or</span>
    <label class="button">choose files<input type="file" multiple onChange=${(/** @type {any} */ event) => void takeChosen(event.target.files)} /></label>
    <label class="button">choose a folder<input type="file" webkitdirectory multiple onChange=${(/** @type {any} */ event) => void takeChosen(event.target.files)} /></label>
  </p>`;
}

export function WaitingPlace() {
  const isOver = useSignal(false);
  useEffect(() => {
    void load();
    const again = seldom(() => void load());
    const stop = listenTo("/api/events", { study: again, reset: again, anew: again });
    const undone = [
      obey("next", () => choose(1)),
      obey("previous", () => choose(-1)),
      obey("first", () => choose(-Infinity)),
      obey("last", () => choose(Infinity)),
      obey("open", () => void (chosen.value && go("study", chosen.value))),
    ];
    return () => {
      stop();
      for (const undo of undone) undo();
    };
  }, [isClosedShown.value]);
  const over = (/** @type {DragEvent} */ event) => {
    if (!event.dataTransfer?.types.includes("Files")) return;
    event.preventDefault();
    isOver.value = true;
  };
  const drop = (/** @type {DragEvent} */ event) => {
    event.preventDefault();
    isOver.value = false;
    if (event.dataTransfer) void takeDrop(event.dataTransfer);
  };
  const studies = list.value?.studies ?? [];
  const title = isClosedShown.value ? "Closed" : "Waiting";
  return html`<main class=${`waiting ${isOver.value ? "over" : ""}`} data-region tabindex="-1" onDragOver=${over} onDragLeave=${() => {
    isOver.value = false;
  }} onDrop=${drop}>
    <header><h1>${title}${list.value ? ` (${list.value.n_all})` : ""}</h1><${Drop} /></header>
    ${why.value ? html`<p class="caution" role="alert">${why.value}</p>` : null}
    ${intakes.value.length ? html`<ul class="intakes" aria-label="On their way in">${intakes.value.map((each) => html`<${IntakeLine} key=${each.id} intake=${each} />`)}</ul>` : null}
    ${list.value && studies.length === 0 ? html`<p class="empty">${isClosedShown.value ? "No study is closed yet." : "Nothing waits. A study appears here as soon as its files arrive."}</p>` : null}
    <ol class="lines">${studies.map((/** @type {any} */ each) => html`<${Line} key=${each.id} study=${each} />`)}</ol>
    ${list.value?.after ? html`<p><button onClick=${() => void load(list.value.after)}>more</button></p>` : null}
    <footer>
      <p class="quiet">${FAN_KEY}</p>
      <p><button class="small" onClick=${() => {
        isClosedShown.value = !isClosedShown.value;
        list.value = null;
      }}>${isClosedShown.value ? "show the waiting ones" : "show the closed ones"}</button></p>
    </footer>
  </main>`;
}
