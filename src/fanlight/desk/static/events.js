// What the service tells of itself: server-sent events. The browser connects again and hears what it missed.
import { signal } from "./html.js";

export const isListening = signal(true);

/**
 * @param {string} address
 * @param {Record<string, (data: any) => void>} heard by the name of the happening
 * @returns {() => void} stop listening
 */
export function listenTo(address, heard) {
  const source = new EventSource(address);
  source.onopen = () => {
    isListening.value = true;
  };
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  let timer;
  let stopAgain = () => {};
  source.onerror = () => {
    isListening.value = false;
    if (source.readyState !== EventSource.CLOSED) return; // it connects again by itself
    timer = setTimeout(() => {
      stopAgain = listenTo(address, heard);
      heard.anew?.({});
    }, 3000);
  };
  for (const [name, hear] of Object.entries(heard)) {
    source.addEventListener(name, (event) => hear(event.data ? JSON.parse(event.data) : {}));
  }
  return () => {
    clearTimeout(timer);
    source.close();
    stopAgain();
  };
}

/** Call at most once in a while, and always after the last wish. @param {() => void} deed */
export function seldom(deed, ms = 400) {
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  let timer;
  return () => {
    if (timer !== undefined) return;
    timer = setTimeout(() => {
      timer = undefined;
      deed();
    }, ms);
  };
}
