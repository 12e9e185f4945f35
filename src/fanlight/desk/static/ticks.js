// What the view must and must not show: a number key each. Shown, not shown, no tick.
import { html } from "./html.js";
import { page, say, state } from "./model.js";

/** @typedef {{requirement: string, item: string}} Item */

/** The items of a view, in the order of their keys. @param {string} view @returns {Item[]} */
export function itemsOf(view) {
  const lists = page.value?.plan?.views?.[view];
  if (!lists) return [];
  return [
    ...lists.must_show.map((/** @type {string} */ item) => ({ requirement: "must show", item })),
    ...lists.must_not_show.map((/** @type {string} */ item) => ({ requirement: "must not show", item })),
  ];
}

/** @param {string} key @param {Item} item @returns {boolean | null} null: nobody said */
function tickOf(key, item) {
  const found = state.value.ticks.find(
    (/** @type {any} */ each) => each.clip === key && each.requirement === item.requirement && each.item === item.item,
  );
  return found ? found.is_shown : null;
}

/** Shown, then not shown, then no tick. @param {any} clip @param {Item} item */
export function tick(clip, item) {
  const now = tickOf(clip.key, item);
  const next = now === null ? true : now ? false : null;
  return say("tick item", { clip: clip.key, ...item, is_shown: next }, clip.key);
}

/** @param {{clip: any, view: string}} props */
export function Ticks({ clip, view }) {
  const items = itemsOf(view);
  if (items.length === 0) return null;
  const list = (/** @type {string} */ requirement) =>
    items.map((item, n) => {
      if (item.requirement !== requirement) return null;
      const now = tickOf(clip.key, item);
      const word = now === null ? "not said" : now ? "shown" : "not shown";
      const isWanted = now !== null && now === (requirement === "must show");
      return html`<li key=${n}>
        <button class=${`tick ${now === null ? "unsaid" : isWanted ? "wanted" : "unwanted"}`} onClick=${() => tick(clip, item)}>
          ${n < 10 ? html`<kbd>${(n + 1) % 10}</kbd>` : html`<span></span>`}<span class="item">${item.item}</span><span class="tick-word">${word}</span>
        </button>
      </li>`;
    });
  return html`<section class="ticks" aria-label="What the view shows">
    <h3>must show</h3>
    <ul>${list("must show")}</ul>
    ${items.some((item) => item.requirement === "must not show") ? html`<h3>must not show</h3><ul>${list("must not show")}</ul>` : null}
  </section>`;
}
