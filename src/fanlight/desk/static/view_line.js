// Above the picture, always one line: which view it is, and whose word that is. A proposal says how sure it is.
import { html } from "./html.js";
import { hidden, page, readingOf, titleOf, viewOf } from "./model.js";
import { candidates, chooseView, placeOfView, shareOfNone, sharesOf } from "./proposals.js";
import { capital, percent } from "./words.js";

/** The name of a view where its letter stands beside it. @param {string} view */
const shortTitle = (view) => {
  const { letter, title } = placeOfView(view);
  return letter ? (page.value?.plan?.views?.[view]?.short_title ?? title) : title;
};

/** A view that a letter, or a press, makes the mentor's. @param {{clip: any, share: import("./proposals.js").Share}} props */
function Choice({ clip, share }) {
  const { letter, title } = placeOfView(share.view);
  const words = `${title}: place the clip there`;
  return html`<button class="small choice-of-view" title=${words} onClick=${() => chooseView(clip.key, share.view)}>
    ${letter ? html`<kbd>${letter}</kbd> ` : null}${shortTitle(share.view)} ${percent(share.probability)}
  </button>`;
}

/** @param {{clip: any, view: string, share: number}} props */
function Proposed({ clip, view, share }) {
  const next = candidates(clip.key, view).slice(0, 1);
  return html`<span class="proposed-word">proposed, ${percent(share)}</span>
    <span class="view-title" title=${titleOf(view)}>${shortTitle(view)}</span>
    ${next.length ? html`<span class="weak">next likeliest</span> <${Choice} clip=${clip} share=${next[0]} />` : html`<span class="weak">no other view is likely</span>`}
    <span class="gap"></span><span class="weak"><kbd>Enter</kbd> confirms and keeps</span>`;
}

/** @param {{clip: any}} props */
function NotSure({ clip }) {
  const none = shareOfNone(clip.key);
  const likely = candidates(clip.key);
  const isNone = sharesOf(clip.key)[0]?.view === "";
  return html`<span class="unsure-word">${isNone ? `like none of the standard views, ${percent(none)}` : "not sure"}</span>
    ${likely.map((each) => html`<${Choice} key=${each.view} clip=${clip} share=${each} />`)}
    ${!isNone && none > 0 ? html`<span class="weak">none of the standard views ${percent(none)}</span>` : null}`;
}

/** What the pixels say beside the word of a person or a file. @param {{clip: any, view: string}} props */
function Beside({ clip, view }) {
  const [first] = sharesOf(clip.key);
  if (!first) return null;
  const what = first.view === view ? "so too" : first.view ? titleOf(first.view) : "none of the standard views";
  return html`<span class="weak">from the pixels: ${what}, ${percent(first.probability)}</span>`;
}

/** @param {{clip: any}} props */
function Words({ clip }) {
  const reading = readingOf(clip.key);
  const { view, said, share } = viewOf(clip.key);
  const reason = capital(reading?.view?.reason ?? "");
  const why = [reason, reading?.picture?.reason].filter(Boolean).join("; ");
  if (hidden.value.has(clip.key) && !view)
    return html`<span>Your judgement first: nothing is proposed before it.</span>`;
  if (said === "engine") return html`<${Proposed} clip=${clip} view=${view} share=${share ?? 0} />`;
  if (said === "mentor" && view)
    return html`<span class="mentor">${titleOf(view)}</span><span class="weak">placed by you</span><${Beside} clip=${clip} view=${view} />`;
  if (said === "file")
    return html`<span class="view-title">${titleOf(view)}</span><span class="weak">named in the file</span>${reason ? html`<span class="doubt" title=${reason}>${reason}</span>` : html`<${Beside} clip=${clip} view=${view} />`}`;
  if (sharesOf(clip.key).length) return html`<${NotSure} clip=${clip} />`;
  if (!reading) return html`<span class="weak">not read yet; a letter of the path places it</span>`;
  return html`<span class="weak" title=${why}>${said === "mentor" ? "Taken out by you" : why || "View not known"}; a letter of the path places it</span>`;
}

const OTHER_SIDE_FROM = 0.7; // as sure as a view must be to be proposed (engineering judgement)

/** A picture that looks left to right exchanged: said where a view is, since of no view it means nothing. @param {{clip: any}} props */
function OtherSide({ clip }) {
  const share = hidden.value.has(clip.key) ? 0 : (readingOf(clip.key)?.picture?.mirrored ?? 0);
  if (!viewOf(clip.key).view || share < OTHER_SIDE_FROM) return null;
  const why =
    "The marker is at the other side of the screen, or the probe is turned half round: the picture is the same.";
  return html`<span class="doubt other-side" title=${why}>left and right look exchanged, ${percent(share)}</span>`;
}

/** @param {{clip: any}} props */
export function ViewLine({ clip }) {
  return html`<p class="view-line"><${Words} clip=${clip} /><${OtherSide} clip=${clip} /></p>`;
}
