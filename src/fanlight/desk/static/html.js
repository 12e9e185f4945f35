// What every part that draws needs, from one place, with the types that the rest is checked against.

import * as hooks from "./vendor/hooks.js";
import htm from "./vendor/htm.js";
import * as preact from "./vendor/preact.js";
import * as signals from "./vendor/signals.js";

/**
 * @template T
 * @typedef {{value: T}} Signal
 */
/**
 * @template T
 * @typedef {{readonly value: T}} Computed
 */
/** @typedef {any} Drawn what a part draws */

/** Markup to elements; people's text is always text, never markup. */
export const html = /** @type {(strings: TemplateStringsArray, ...values: any[]) => Drawn} */ (
  htm.bind(preact.createElement)
);
export const render = /** @type {(what: Drawn, into: Element) => void} */ (preact.render);

export const signal = /** @type {<T>(value: T) => Signal<T>} */ (signals.signal);
export const useSignal = /** @type {<T>(value: T) => Signal<T>} */ (signals.useSignal);
export const computed = /** @type {<T>(how: () => T) => Computed<T>} */ (signals.computed);
export const effect = /** @type {(deed: () => void | (() => void)) => () => void} */ (signals.effect);
export const batch = /** @type {<T>(deed: () => T) => T} */ (signals.batch);
export const untracked = /** @type {<T>(deed: () => T) => T} */ (signals.untracked);

export const useEffect = /** @type {(deed: () => void | (() => void), on?: any[]) => void} */ (hooks.useEffect);
export const useLayoutEffect = /** @type {typeof useEffect} */ (hooks.useLayoutEffect);
export const useMemo = /** @type {<T>(make: () => T, on: any[]) => T} */ (hooks.useMemo);
export const useRef = /** @type {<T>(first: T) => {current: T}} */ (hooks.useRef);
