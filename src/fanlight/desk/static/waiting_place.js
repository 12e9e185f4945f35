// The studies that wait: one line each, urgent ones first, oldest first. Drop a folder, a zip or files anywhere.
import { get } from "./api.js";
import { comesAs, Drop, takesFiles } from "./drop.js";
import { listenTo, seldom } from "./events.js";
import { FAN_KEY } from "./fan.js";
import { html, signal, useEffect, useSignal } from "./html.js";
import { Intakes } from "./intake_line.js";
import { obey } from "./keys.js";
import { go } from "./model.js";
import { Line } from "./waiting_line.js";

const list = signal(/** @type {any} */ (null));
const why = signal("");
const chosen = signal("");
const isClosedShown = signal(false);

/** Load the list, and as many pages of it as were shown. */
async function load() {
  const shown = list.value?.studies.length ?? 0;
  try {
    let found = await page("");
    while (found.after && found.studies.length < shown) found = joined(found, await page(found.after));
    list.value = found;
    why.value = "";
  } catch (error) {
    why.value = error instanceof Error ? error.message : String(error);
  }
}

async function more() {
  try {
    list.value = joined(list.value, await page(list.value.after));
  } catch (error) {
    why.value = error instanceof Error ? error.message : String(error);
  }
}

/** @param {string} after @returns {Promise<any>} */
function page(after) {
  const base = isClosedShown.value ? "/api/closed" : "/api/waiting";
  return get(after ? `${base}?after=${encodeURIComponent(after)}` : base);
}

/** @param {any} one @param {any} next */
function joined(one, next) {
  return { ...next, studies: [...one.studies, ...next.studies] };
}

function choose(/** @type {number} */ by) {
  const all = list.value?.studies ?? [];
  const at = all.findIndex((/** @type {any} */ each) => each.id === chosen.value);
  const next = all[Math.min(Math.max(at + by, 0), all.length - 1)];
  if (!next) return;
  chosen.value = next.id;
  requestAnimationFrame(() => /** @type {HTMLElement | null} */ (document.querySelector(".line.chosen a"))?.focus());
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
  const studies = list.value?.studies ?? [];
  const title = isClosedShown.value ? "Closed" : "Waiting";
  return html`<main class=${`waiting ${isOver.value ? "over" : ""}`} data-region tabindex="-1" ...${takesFiles(isOver, () => comesAs.value)}>
    <header><h1>${title}${list.value ? ` (${list.value.n_all})` : ""}</h1><${Drop} studies=${isClosedShown.value ? [] : studies} /></header>
    ${why.value ? html`<p class="caution" role="alert">${why.value}</p>` : null}
    <${Intakes} />
    ${list.value && studies.length === 0 ? html`<p class="empty">${isClosedShown.value ? "No study is closed yet." : "Nothing waits. A study appears here as soon as its files arrive."}</p>` : null}
    <ol class="lines">${studies.map(
      (/** @type {any} */ each) =>
        html`<${Line} key=${each.id} study=${each} isChosen=${chosen.value === each.id} onChosen=${() => {
          chosen.value = each.id;
        }} />`,
    )}</ol>
    ${list.value?.after ? html`<p><button onClick=${() => void more()}>more</button></p>` : null}
    <footer>
      <p class="quiet">${FAN_KEY}</p>
      <p><button class="small" onClick=${() => {
        isClosedShown.value = !isClosedShown.value;
        list.value = null;
      }}>${isClosedShown.value ? "show the waiting ones" : "show the closed ones"}</button></p>
    </footer>
  </main>`;
}
