// The desk begins here.
import { begin as beginActs } from "./acts.js";
import { effect, html, render } from "./html.js";
import { listen, obey } from "./keys.js";
import { LettersPlace } from "./letters_place.js";
import { go, lettersCount, markTool, opened, place, readAddress, sayUnsaid, theme, told } from "./model.js";
import { nextTheme, Shell } from "./shell.js";
import { StudyPlace } from "./study_place.js";
import { takeBack } from "./take_back.js";
import { WaitingPlace } from "./waiting_place.js";

/** Close what is open; else go back. */
function back() {
  if (opened.value) opened.value = "";
  else if (markTool.value) markTool.value = "";
  else if (place.value.name === "letters") go("study", place.value.study);
  else if (place.value.name === "study") go("waiting");
}

/** The focus goes from region to region, in the order in which they stand. */
function nextRegion() {
  const regions = /** @type {HTMLElement[]} */ ([...document.querySelectorAll("[data-region]")]);
  if (regions.length === 0) return;
  const at = regions.findIndex((each) => each.contains(document.activeElement));
  regions[(at + 1) % regions.length].focus();
}

/** After a click the focus leaves what was clicked, so that the keys mean what the table says. */
function freeFocus(/** @type {MouseEvent} */ event) {
  const clicked = event.target instanceof Element ? event.target.closest("button, summary, [role=slider]") : null;
  if (event.detail > 0 && clicked instanceof HTMLElement && document.activeElement === clicked) clicked.blur();
}

/** Take back, or put back: only what can be seen. @param {"undo" | "redo"} which */
function takeBackHere(which) {
  if (place.value.name !== "waiting") takeBack(which);
  else told.value = "Nothing of the list is taken back: open the study, there Backspace takes back its last act.";
}

function Desk() {
  const { name, study } = place.value;
  let now = html`<${WaitingPlace} />`;
  if (name === "study") now = html`<${StudyPlace} key=${study} />`;
  if (name === "letters") now = html`<${LettersPlace} key=${study} />`;
  return html`<${Shell}>${now}<//>`;
}

function begin() {
  effect(() => {
    document.documentElement.dataset.theme = theme.value;
  });
  /** @type {ReturnType<typeof setTimeout> | undefined} */
  let timer;
  effect(() => {
    clearTimeout(timer);
    if (told.value)
      timer = setTimeout(() => {
        told.value = "";
      }, 8000);
  });
  obey("back", back);
  obey("region", nextRegion);
  obey("theme", nextTheme);
  obey("help", () => {
    opened.value = "help";
  });
  obey("undo", () => takeBackHere("undo"));
  obey("redo", () => takeBackHere("redo"));
  listen(() => lettersCount.value);
  window.addEventListener("click", freeFocus);
  window.addEventListener("hashchange", readAddress);
  window.addEventListener("pagehide", sayUnsaid);
  for (const name of ["dragover", "drop"]) window.addEventListener(name, (event) => event.preventDefault());
  readAddress();
  render(html`<${Desk} />`, /** @type {HTMLElement} */ (document.getElementById("desk")));
  beginActs();
}

begin();
