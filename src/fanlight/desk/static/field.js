// A field for words that stand in the study. What is typed stays while the page draws anew, and is said when one is done.
import { draftKey, draftOf, keepDraft, sayDraft } from "./drafts.js";
import { html, useEffect, useRef, useSignal } from "./html.js";

/**
 * Words from outside show only while nothing is being written here.
 * @param {{study: string, name: string, value: string, onSaid: (text: string) => boolean, rows?: number, [more: string]: any}} props
 *   `name` is the field's own within the study; `onSaid` hears the new words and tells whether they could be said;
 *   `rows`: a field of several lines
 */
export function WordsField({ study, name, value, onSaid, rows = 0, ...more }) {
  const key = draftKey(study, name);
  const typed = useSignal(draftOf(key));
  const now = useRef({ value, onSaid });
  now.current = { value, onSaid };
  const hold = (/** @type {string} */ text) => {
    typed.value = text;
    const say = () => {
      const isSaid = text.trim() === now.current.value || now.current.onSaid(text.trim());
      if (isSaid && typed.value === text) typed.value = null;
      return isSaid;
    };
    keepDraft(key, { text, say });
  };
  const done = () => {
    sayDraft(key);
  };
  useEffect(() => {
    const left = draftOf(key); // by a field that was here before, and could not say it
    if (left !== null) hold(left);
    return done;
  }, [key]);
  const held = {
    ...more,
    value: typed.value ?? value,
    onInput: (/** @type {any} */ event) => hold(event.target.value),
    onChange: done,
    onBlur: done,
  };
  return rows ? html`<textarea rows=${rows} ...${held}></textarea>` : html`<input ...${held} />`;
}
