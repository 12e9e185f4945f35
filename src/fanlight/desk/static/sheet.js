// The request sheet: the trainee's own reading first, then what is still asked for; what is stated stands folded below.
import { ask } from "./api.js";
import { focusOnce } from "./focus.js";
import { html, useSignal } from "./html.js";
import { loadStudy, opened, page, told } from "./model.js";
import { typedIn } from "./typed.js";

/** @typedef {{name: string, label: string, of: "request" | "animal" | "identity", kind?: "number" | "long", choice?: [string, string][]}} Field */

// biome-ignore format: one field a line
/** @type {Field[]} */
const FIELDS = [
  { name: "trainee_reading", label: "The trainee's own reading, before any feedback", of: "request", kind: "long" },
  { name: "question", label: "The clinical question", of: "request" },
  { name: "signs", label: "Clinical signs", of: "request" },
  { name: "breathing", label: "Breathing", of: "request", choice: [["not_stated", "not stated"], ["normal", "normal"], ["laboured", "laboured"], ["distressed", "distressed"]] },
  { name: "species", label: "Species", of: "animal", choice: [["", "not stated"], ["dog", "dog"], ["cat", "cat"]] },
  { name: "breed", label: "Breed", of: "animal" },
  { name: "weight_kg", label: "Weight in kg", of: "animal", kind: "number" },
  { name: "age_years", label: "Age in years", of: "animal", kind: "number" },
  { name: "sex", label: "Sex", of: "animal", choice: [["", "not stated"], ["male", "male"], ["female", "female"]] },
  { name: "neutered", label: "Neutered", of: "animal", choice: [["", "not stated"], ["true", "yes"], ["false", "no"]] },
  { name: "murmur_grade", label: "Murmur, grade 0 (none) to 6", of: "request", kind: "number" },
  { name: "murmur_place", label: "Where the murmur is loudest", of: "request" },
  { name: "rhythm", label: "Rhythm", of: "request" },
  { name: "heart_rate_bpm", label: "Heart rate, beats a minute", of: "request", kind: "number" },
  { name: "blood_pressure_mmhg", label: "Blood pressure in mmHg", of: "request", kind: "number" },
  { name: "radiographs", label: "Radiographs", of: "request" },
  { name: "vertebral_heart_score", label: "Vertebral heart score", of: "request", kind: "number" },
  { name: "treatment", label: "Treatment", of: "request" },
  { name: "sedation", label: "Sedation", of: "request" },
  { name: "body_condition", label: "Body condition", of: "request" },
  { name: "earlier_studies", label: "Earlier heart scans", of: "request" },
  { name: "trainee", label: "Trainee; empty for a plain second reading", of: "request" },
  { name: "practice", label: "Practice", of: "identity" },
];

/** What the sheet says now, as a text. @param {Field} field @returns {string} */
function statedText({ name, of }) {
  const { request, patient, identity } = page.value.study;
  const value = { request, animal: patient, identity }[of][name];
  return value === null || value === undefined || value === "not_stated" ? "" : String(value);
}

/** @param {Field} field @param {string} text */
function parsed({ name, kind }, text) {
  if (name === "neutered") return text === "true";
  if (kind !== "number") return text;
  const value = Number(text.replace(",", "."));
  return Number.isFinite(value) ? value : text; // the service says what is wrong with it
}

/** @param {{field: Field, stated: string, typed: import("./html.js").Signal<Record<string, string>>, isFirst: boolean}} props */
function Input({ field, stated, typed, isFirst }) {
  const value = typed.value[field.name] ?? stated;
  const change = (/** @type {any} */ event) => {
    typed.value = { ...typed.value, [field.name]: event.target.value };
  };
  const entry = field.choice
    ? html`<select value=${value || field.choice[0][0]} onChange=${change}>${field.choice.map(([key, words]) => html`<option key=${key} value=${key}>${words}</option>`)}</select>`
    : field.kind === "long"
      ? html`<textarea rows="3" value=${value} onInput=${change} ref=${isFirst ? focusOnce : null}></textarea>`
      : html`<input inputmode=${field.kind === "number" ? "decimal" : "text"} value=${value} onInput=${change} />`;
  return html`<label class="field">${field.label}${entry}</label>`;
}

export function SheetForm() {
  const before = Object.fromEntries(FIELDS.map((field) => [field.name, statedText(field)]));
  const typed = typedIn(page.value.id, "request sheet", () => /** @type {Record<string, string>} */ ({}));
  const kept = useSignal(before);
  const why = useSignal("");
  const send = async (/** @type {Event} */ event) => {
    event.preventDefault();
    /** @type {Record<string, Record<string, any>>} */
    const body = { request: {}, animal: {}, identity: {} };
    for (const field of FIELDS) {
      const text = (typed.value[field.name] ?? before[field.name]).trim();
      if (text && text !== "not_stated") body[field.of][field.name] = parsed(field, text);
    }
    try {
      await ask(`/api/studies/${page.value.id}/sheet`, {
        method: "POST",
        headers: { "content-type": "application/json" },
        body: JSON.stringify(body),
      });
      typed.value = {};
      opened.value = "";
      told.value = "The request sheet is kept; the study is read again where it matters.";
      await loadStudy(page.value.id);
    } catch (error) {
      why.value = error instanceof Error ? error.message : String(error);
    }
  };
  const row = (/** @type {Field} */ field, /** @type {number} */ n) =>
    html`<${Input} key=${field.name} field=${field} stated=${before[field.name]} typed=${typed} isFirst=${n === 0} />`;
  const open = FIELDS.filter((field, n) => n === 0 || !kept.value[field.name]);
  const stated = FIELDS.filter((field) => !open.includes(field));
  return html`<div class="panel sheet" role="dialog" aria-label="Request sheet"><form onSubmit=${send}>
    <h2>Request sheet</h2>
    <div class="sheet-fields">${open.map(row)}</div>
    ${stated.length ? html`<details><summary>stated already: ${stated.map((field) => field.label.split(",")[0].split(";")[0].toLowerCase()).join(", ")}</summary><div class="sheet-fields">${stated.map((field) => row(field, 1))}</div></details>` : null}
    ${why.value ? html`<p class="caution" role="alert">${why.value}</p>` : null}
    <p class="buttons"><button type="submit">keep the sheet</button><button type="button" onClick=${() => {
      opened.value = "";
    }}>leave <kbd>Esc</kbd></button></p>
  </form></div>`;
}
