// What every part that draws needs, from one place.
import { createElement, Fragment, render } from "./vendor/preact.js";
import htm from "./vendor/htm.js";

export { Fragment, render };
export { useCallback, useEffect, useLayoutEffect, useMemo, useRef, useState } from "./vendor/hooks.js";
export { batch, computed, effect, signal, untracked, useComputed, useSignal } from "./vendor/signals.js";

/** Markup to elements; people's text is always text, never markup. */
export const html = htm.bind(createElement);
