// Where the keyboard is.

/** Take the focus when it appears. @param {HTMLElement | null} element */
export function focusOnce(element) {
  if (element && !element.dataset.focused) {
    element.dataset.focused = "yes";
    element.focus();
  }
}
