// In a set share of clips the mentor judges first and sees the proposals after: this is how agreement is known.
import { isHeldBack } from "./causes_first.js";
import { html, useSignal } from "./html.js";
import { say, titleOf, told, viewOf } from "./model.js";

const VERDICTS = ["diagnostic", "limited", "non-diagnostic"];
const PURPOSES = ["look", "measure", "doppler"];

/** Judge a clip before its proposals are shown; the view is the step in which it lies. @param {string} key @param {string[][]} verdicts */
export function judge(key, verdicts) {
  if (isHeldBack()) return;
  if (say("judge blind", { clip: key, view: viewOf(key).view, verdicts, words: "" }, key)) {
    told.value = "Judged. Now the proposals are shown.";
  }
}

/** One word for looking and measuring. @param {string} key @param {string} verdict */
export function judgeAll(key, verdict) {
  judge(key, [
    ["look", verdict],
    ["measure", verdict],
  ]);
}

/** @param {{clip: any}} props */
export function BlindJudgement({ clip }) {
  const verdicts = useSignal(/** @type {Record<string, string>} */ ({}));
  const { view } = viewOf(clip.key);
  const send = (/** @type {Event} */ event) => {
    event.preventDefault();
    judge(
      clip.key,
      PURPOSES.filter((each) => verdicts.value[each]).map((each) => [each, verdicts.value[each]]),
    );
  };
  return html`<form class="blind" onSubmit=${send}>
    <p class="engine">Your judgement first: the proposals for this clip stay hidden until you have judged it, so that agreement can be known.</p>
    <p>View: ${view ? html`<span class="mentor">${titleOf(view)}</span>` : "a letter of the path says which; none when you cannot tell"}</p>
    ${PURPOSES.map(
      (purpose) => html`<fieldset key=${purpose}>
        <legend>good for: ${purpose}</legend>
        ${VERDICTS.map(
          (each) => html`<label key=${each}>
            <input type="radio" name=${`blind-${purpose}`} checked=${verdicts.value[purpose] === each}
              onChange=${() => {
                verdicts.value = { ...verdicts.value, [purpose]: each };
              }} /><span>${each}</span>
          </label>`,
        )}
      </fieldset>`,
    )}
    <p class="buttons"><button type="submit" disabled=${Object.keys(verdicts.value).length === 0}>judge, and show the proposals</button></p>
    <p class="quiet"><kbd>+</kbd> diagnostic, <kbd>-</kbd> non-diagnostic: for looking and measuring alike</p>
  </form>`;
}
