// Clips that are in no step of the plan: those that wait for a place, and those that lie in a view outside it.
import { computed } from "./html.js";
import { clips, readingOf, steps, viewOf } from "./model.js";

const NO_VIEW = new Set(["no_contact", "not_echo"]); // modes that show no view

/** Clips that lie in no view. */
export const left = computed(() => clips.value.filter((each) => !viewOf(each.key).view));

/** Whether a clip may still come to lie in another view than now, proposed ones too: until then nothing is called missing. */
export const clipsWait = computed(() =>
  clips.value.some(({ key }) => {
    const { view, said } = viewOf(key);
    return view ? said === "engine" : !NO_VIEW.has(readingOf(key)?.mode?.mode);
  }),
);

/** Clips outside the plan by their view. @type {import("./html.js").Computed<[string, any[]][]>} */
export const outside = computed(() => {
  const asked = new Set(steps.value.map((step) => step.view));
  /** @type {Map<string, any[]>} */
  const found = new Map();
  for (const each of clips.value) {
    const { view } = viewOf(each.key);
    if (view && !asked.has(view)) found.set(view, [...(found.get(view) ?? []), each]);
  }
  return [...found];
});
