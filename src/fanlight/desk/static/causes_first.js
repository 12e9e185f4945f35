// A covered study: the mentor says which causes she sees, and sees the proposals after. Only what is said so may re-fit
// how likely each cause is.
import { waiting } from "./acts.js";
import { html } from "./html.js";
import { page, say, told } from "./model.js";
import { typedIn } from "./typed.js";
import { capital, count } from "./words.js";

/** @typedef {{cause: string, title: string, when: string, level: string}} Asked a cause that the clips could show */
/** @typedef {Record<string, "through" | "some">} Seen what is ticked, by cause */
/** @typedef {{cause: string, title: string}} Named */
/** @typedef {{author: string, at: string, through: Named[], some: Named[]}} Said what was said first */

const HEADINGS = /** @type {Record<string, string>} */ ({
  console: "at the console",
  hand: "at the probe",
  record: "in the record",
  animal: "in the animal itself",
});
const WHERE = /** @type {const} */ ({ through: "runs through", some: "single clips" });

/** Whether nothing that is proposed for the study may be shown yet. */
export const isCovered = () => page.value?.causes_first?.is_covered === true;

/** What is ticked, as the act says it. @param {Seen} seen @returns {{through: string[], some: string[]}} */
export const saidOf = (seen) => {
  const of = (/** @type {string} */ where) => Object.keys(seen).filter((cause) => seen[cause] === where);
  return { through: of("through"), some: of("some") };
};

/** What was said, as ticks; none where nothing was. @param {Said | null} said @returns {Seen} */
export function seenIn(said) {
  const of = (/** @type {"through" | "some"} */ where) =>
    (said?.[where] ?? []).map(({ cause }) => /** @type {const} */ ([cause, where]));
  return Object.fromEntries([...of("through"), ...of("some")]);
}

/** Ticks whose cause is still asked about. @param {Seen} seen @param {Asked[]} asked @returns {Seen} */
export function stillAsked(seen, asked) {
  const causes = new Set(asked.map((each) => each.cause));
  return Object.fromEntries(Object.entries(seen).filter(([cause]) => causes.has(cause)));
}

/** Whether ticks are otherwise than what was said. @param {Seen} seen @param {Seen} said */
export const isOtherwise = (seen, said) =>
  Object.keys(seen).length !== Object.keys(said).length || Object.keys(seen).some((key) => seen[key] !== said[key]);

/** Why no cause is asked about, "" when some are. @param {{isIdle: boolean, nRead: number, nAsked: number}} of how far the engine is, clips that were read, causes */
export function whyNotAsked({ isIdle, nRead, nAsked }) {
  if (!isIdle) return "Its clips are still being read; then it is asked.";
  if (nAsked > 0) return "";
  return nRead === 0
    ? "None of its clips could be read, so no cause can be asked about."
    : "No mode is known of any clip that is left in, so no cause can be asked about: name the mode of a clip.";
}

/** Ticked once more: not seen. @param {Seen} seen @param {string} cause @param {"through" | "some"} where @returns {Seen} */
export function ticked(seen, cause, where) {
  const { [cause]: before, ...others } = seen;
  return before === where ? others : { ...others, [cause]: where };
}

/** Causes below their headings, in the order of the service. @param {Asked[]} asked @returns {[string, Asked[]][]} */
export function byLevel(asked) {
  const groups = new Map(/** @type {[string, Asked[]][]} */ ([]));
  for (const each of asked) groups.set(each.level, [...(groups.get(each.level) ?? []), each]);
  return [...groups].map(([level, rows]) => [HEADINGS[level] ?? level, rows]);
}

/** What was said, in a line. @param {Said} said */
export function saidWords({ through, some }) {
  const titles = [
    ...through.map((each) => `${each.title} (runs through)`),
    ...some.map((each) => `${each.title} (single clips)`),
  ];
  return titles.length ? `${capital(titles.join("; "))}.` : "No cause acts.";
}

/** Why a clip cannot be judged yet; says so. */
export function isHeldBack() {
  if (!isCovered()) return false;
  told.value = "This study is covered: say first which causes you see.";
  return true;
}

/** @param {{each: Asked, seen: Seen, put: (seen: Seen) => void}} props */
function Row({ each, seen, put }) {
  const button = (/** @type {"through" | "some"} */ where) =>
    html`<button type="button" class="small" aria-pressed=${seen[each.cause] === where ? "true" : "false"} aria-label=${`${each.title}: ${WHERE[where]}`}
      onClick=${() => put(ticked(seen, each.cause, where))}>${WHERE[where]}</button>`;
  return html`<li class=${seen[each.cause] ? "seen" : ""}>
    <span class="cause-title">${capital(each.title)}</span>
    <span class="where">${button("through")}${button("some")}</span>
    <span class="quiet">${each.when}</span>
  </li>`;
}

/** Asked in place of every proposal while the study is covered. */
export function CausesFirst() {
  const typed = typedIn(page.value.id, "causes first", () => /** @type {Seen | null} */ (null)); // null: not touched
  const { said, asked } = page.value.causes_first;
  const isIdle = page.value.engine?.state === "idle";
  const whyNot = whyNotAsked({ isIdle, nRead: page.value.readings.length, nAsked: asked.length });
  // While clips are read anew nothing is asked, and what is ticked is kept.
  const standing = (/** @type {Seen} */ each) => (isIdle ? stillAsked(each, asked) : each);
  const seen = standing(typed.value ?? seenIn(said));
  const n = Object.keys(seen).length;
  const isUnsaid = isOtherwise(seen, standing(seenIn(said)));
  const isOnItsWay = waiting.value.some((each) => each.study === page.value.id && each.action === "say causes");
  const sayNow = (/** @type {Event} */ event) => {
    event.preventDefault();
    if (say("say causes", saidOf(seen)))
      told.value = "Said, and still covered: say it otherwise, or show the proposals.";
  };
  const put = (/** @type {Seen} */ now) => {
    typed.value = now;
  };
  const uncover = () => {
    if (say("uncover study", {})) told.value = "Now the proposals are shown; what you said first is kept.";
  };
  return html`<form class="causes-first" aria-label="Causes, before anything is proposed" onSubmit=${sayNow}>
    <h3>Which causes do you see?</h3>
    <p class="engine">This study is covered: nothing that was found or is proposed is shown until you have said what stands behind its pictures. Look through all clips first; they can be placed meanwhile.</p>
    ${
      whyNot
        ? html`<p class="quiet" role="status">${whyNot}</p>`
        : html`${byLevel(asked).map(
            ([heading, rows]) => html`<fieldset key=${heading}><legend>${heading}</legend>
              <ul>${rows.map((each) => html`<${Row} key=${each.cause} each=${each} seen=${seen} put=${put} />`)}</ul></fieldset>`,
          )}
          <p class="buttons"><button type="submit">${n ? `say ${count(n, "cause")}` : "say that none acts"}</button></p>`
    }
    ${said ? html`<p>Said by ${said.author}: <span class="mentor">${saidWords(said)}</span></p>` : null}
    ${isUnsaid ? html`<p class="quiet">What is ticked was not said yet: say it, or tick as it was, before the proposals are shown.</p>` : null}
    <p class="buttons"><button type="button" disabled=${isUnsaid || isOnItsWay} onClick=${uncover}>${said ? "show the proposals" : "show the proposals without saying"}</button></p>
    <p class="quiet">What is said after that counts for nothing here: it could follow the proposals.</p>
  </form>`;
}

/** What was said first, once the proposals are shown. */
export function SaidFirst() {
  const first = page.value?.causes_first;
  if (!first?.said || first.is_covered) return null;
  return html`<p class="said-first">Said by ${first.said.author} before anything was proposed: <span class="mentor">${saidWords(first.said)}</span></p>`;
}
