// What must stand wherever numbers of an animal are shown.
import { html } from "./html.js";
import { page } from "./model.js";

/** The service's words where it sends them; a test holds these to the words of the papers. */
export const CAUTION =
  "Fanlight supports, and does not replace, a licensed veterinarian. Reference limits have a source and limits. With urgent signs contact a veterinarian now.";

export function Caution() {
  return html`<p class="quiet usual-caution">${page.value?.caution || CAUTION}</p>`;
}
