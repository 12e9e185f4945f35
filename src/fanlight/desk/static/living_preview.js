// A paper as it will leave, living. The newer state loads behind the one that is shown and takes its place when it is
// whole: nothing flashes, and the paper stays where it was scrolled to.
import { html, useRef, useSignal } from "./html.js";

/** @param {{study: string, kind: string, version: number}} props `version` counts what changed it */
export function LivingPreview({ study, kind, version }) {
  const shown = useSignal(version);
  const frames = useRef(/** @type {Map<number, HTMLIFrameElement>} */ (new Map()));
  const loaded = (/** @type {number} */ of) => () => {
    const [from, to] = [shown.value, of].map((each) => frames.current.get(each)?.contentDocument?.scrollingElement);
    if (of <= shown.value) return;
    if (from && to) to.scrollTop = from.scrollTop;
    shown.value = of;
  };
  const keep = (/** @type {number} */ of) => (/** @type {HTMLIFrameElement | null} */ frame) => {
    if (frame) frames.current.set(of, frame);
    else frames.current.delete(of);
  };
  const all = version === shown.value ? [version] : [shown.value, version];
  return html`<div class="living">
    ${all.map(
      (
        of,
      ) => html`<iframe key=${of} ref=${keep(of)} sandbox="allow-same-origin" class=${of === shown.value ? "" : "to-come"}
        title=${of === shown.value ? `Preview of the ${kind}` : `Preview of the ${kind}, loading`} aria-hidden=${of === shown.value ? null : "true"}
        tabindex=${of === shown.value ? "0" : "-1"} src=${`/api/studies/${study}/letter?kind=${kind}&version=${of}`} onLoad=${loaded(of)}></iframe>`,
    )}
  </div>`;
}
