// The request sheet, asked for where it is empty; the trainee's own reading first.
import { ask } from "./api.js";
import { focusOnce } from "./focus.js";
import { html, useSignal } from "./html.js";
import { loadStudy, opened, page, told } from "./model.js";

const BREATHING = ["not_stated", "normal", "laboured", "distressed"];

/** @param {{name: string, label: string, form: any, area?: boolean, first?: boolean}} props */
function Field({ name, label, form, area = false, first = false }) {
  const change = (/** @type {any} */ event) => {
    form.value = { ...form.value, [name]: event.target.value };
  };
  return html`<label class="field">${label}
    ${
      area
        ? html`<textarea rows="3" value=${form.value[name]} onInput=${change} ref=${first ? focusOnce : null}></textarea>`
        : html`<input value=${form.value[name]} onInput=${change} />`
    }
  </label>`;
}

export function SheetForm() {
  const { request, patient } = page.value.study;
  const form = useSignal({
    trainee_reading: request.trainee_reading,
    question: request.question,
    signs: request.signs,
    breathing: request.breathing,
    species: patient.species ?? "",
    breed: patient.breed,
    weight_kg: patient.weight_kg ?? "",
  });
  const why = useSignal("");
  const send = async (/** @type {Event} */ event) => {
    event.preventDefault();
    const { species, breed, weight_kg, ...said } = form.value;
    const stated = Object.fromEntries(
      Object.entries(said).filter(([, value]) => value !== "" && value !== "not_stated"),
    );
    /** @type {Record<string, any>} */
    const animal = {};
    if (species) animal.species = species;
    if (breed) animal.breed = breed;
    if (String(weight_kg).trim()) animal.weight_kg = Number(String(weight_kg).replace(",", "."));
    try {
      await ask(`/api/studies/${page.value.id}/sheet`, {
        method: "POST",
        headers: { "content-type": "application/json" },
        body: JSON.stringify({ request: stated, animal, identity: {} }),
      });
      opened.value = "";
      told.value = "The request sheet is kept; the study is read again where it matters.";
      await loadStudy(page.value.id);
    } catch (error) {
      why.value = error instanceof Error ? error.message : String(error);
    }
  };
  return html`<div class="panel sheet" role="dialog" aria-label="Request sheet"><form onSubmit=${send}>
    <h2>Request sheet</h2>
    <${Field} name="trainee_reading" label="The trainee's own reading, before any feedback" form=${form} area first />
    <${Field} name="question" label="The clinical question" form=${form} />
    <${Field} name="signs" label="Clinical signs" form=${form} />
    <label class="field">Breathing
      <select value=${form.value.breathing} onChange=${(/** @type {any} */ event) => {
        form.value = { ...form.value, breathing: event.target.value };
      }}>
        ${BREATHING.map((each) => html`<option key=${each} value=${each}>${each.replace("_", " ")}</option>`)}
      </select>
    </label>
    <div class="row">
      <label class="field">Species
        <select value=${form.value.species} onChange=${(/** @type {any} */ event) => {
          form.value = { ...form.value, species: event.target.value };
        }}>
          ${["", "dog", "cat"].map((each) => html`<option key=${each} value=${each}>${each || "not stated"}</option>`)}
        </select>
      </label>
      <${Field} name="breed" label="Breed" form=${form} />
      <${Field} name="weight_kg" label="Weight in kg" form=${form} />
    </div>
    ${request.missing.length ? html`<p class="quiet">Still asked for: ${request.missing.join("; ")}.</p>` : null}
    ${why.value ? html`<p class="caution" role="alert">${why.value}</p>` : null}
    <p class="buttons"><button type="submit">keep the sheet</button><button type="button" onClick=${() => {
      opened.value = "";
    }}>leave <kbd>Esc</kbd></button></p>
  </form></div>`;
}
