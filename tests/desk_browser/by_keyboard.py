"""A mentor's whole work on a study by keyboard alone: every key goes through one place that counts it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

MOST_TABS = 60  # beyond these a control counts as out of reach


@dataclass
class Keyboard:
    """The only hand at the page: presses keys and counts them. It has no pointer and calls nothing in the page."""

    page: Any
    pressed: list[str] = field(default_factory=list)  # in order
    by_part: dict[str, int] = field(default_factory=dict)  # part of the work -> keys
    part: str = ""

    @property
    def n(self) -> int:
        return len(self.pressed)

    def press(self, *names: str) -> None:
        for name in names:
            self.pressed.append(name)
            self.by_part[self.part] = self.by_part.get(self.part, 0) + 1
            self.page.keyboard.press(name)

    def write(self, text: str) -> None:
        """Write a text, each letter a key."""
        self.press(*("Space" if letter == " " else letter for letter in text))

    def reach(self, selector: str) -> None:
        """Go on from control to control until the one that is wanted has the focus."""
        is_there = "selector => document.activeElement.matches(selector)"
        for _ in range(MOST_TABS):
            if self.page.evaluate(is_there, selector):
                return
            self.press("Tab")
        raise AssertionError(f"{selector} was not reached with {MOST_TABS} keys")


@dataclass(frozen=True)
class ClipKeys:
    """How one clip was decided."""

    number: int
    pressed: tuple[str, ...]  # to place it and to keep what was proposed
    is_diagnostic: bool
    is_blind: bool

    @property
    def keys(self) -> int:
        return len(self.pressed)


def decide_clips(hand: Keyboard, views: Mapping[int, str], valves: Mapping[int, str]) -> list[ClipKeys]:
    """Place each clip that is not proposed in its view, say its valve, judge what is judged blind, keep the rest.

    Parameters
    ----------
    hand : Keyboard
        At a study with its first clip on the stage.
    views : mapping
        Number of the clip in its study to the view that it shows, as the mentor sees.
    valves : mapping
        Likewise the valve of each Doppler clip.
    """
    page, hand.part = hand.page, "clips"
    study = page.url.rsplit("/", 1)[-1]
    told = page.evaluate("async study => (await fetch(`/api/studies/${study}`)).json()", study)
    letters = {step["view"]: step["letter"] for step in told["plan"]["steps"]}
    done: dict[int, ClipKeys] = {}
    for _ in range(2 * len(told["study"]["clips"])):  # a strip that is read anew where it was placed comes up again
        page.wait_for_selector(".stage-head h2")
        number = int(page.locator(".stage-head h2").inner_text().split()[1].rstrip(","))
        before, is_blind = hand.n, page.locator("form.blind").count() > 0
        if number not in done and not is_proposed(page, letters[views[number]]):
            hand.press(letters[views[number]])
            page.wait_for_selector(".step.here .tile[aria-current]")
        if number not in done and number in valves and page.locator(".valves").count():
            say_valve(hand, letters[views[number]], valves[number])
        if is_blind:
            hand.press("+")
            page.wait_for_selector(".finding, .folded")  # the proposals are here
        page.wait_for_selector(".good-for", state="attached")  # Enter keeps what is shown
        words = page.locator(".good-for > div:not(.doppler) dd").all_inner_texts()
        hand.press("Enter")
        said = ".told:has-text('is next'), .told:has-text('Every clip is decided')"
        page.wait_for_selector(said)
        earlier = done[number].pressed if number in done else ()
        done[number] = ClipKeys(number, (*earlier, *hand.pressed[before:]), "diagnostic" in words, is_blind)
        if "Every clip is decided" in page.locator(".told").inner_text():
            return list(done.values())
        page.wait_for_function(
            "n => document.querySelector('.stage-head h2').textContent.trim() !== `clip ${n}`", arg=number
        )
    raise AssertionError(f"after {len(done)} clips the desk still asks for decisions")


def is_proposed(page: Any, letter: str) -> bool:
    """Return whether the clip on the stage is proposed in the step of a letter: then Enter confirms it."""
    return bool(page.locator(f".step.here:has(.letter:text-is('{letter}')) .tile.proposed[aria-current]").count())


def say_valve(hand: Keyboard, letter: str, valve: str) -> None:
    """Press the letter of the step until the valve is said."""
    chosen = hand.page.locator(".valves label:has(input:checked)")
    placed = ".findings-side :text('placed by you')"
    for _ in range(5):
        before = chosen.inner_text() if chosen.count() else ""
        if before.strip() == valve:
            return
        was_placed = hand.page.locator(placed).count() > 0
        hand.press(letter)
        if not was_placed:  # it was proposed: the first press is about the view
            hand.page.wait_for_selector(placed)
            continue
        hand.page.wait_for_function(
            "was => (document.querySelector('.valves label:has(input:checked)')?.innerText ?? '') !== was", arg=before
        )
    raise AssertionError(f"{letter} never says the {valve} valve")


def say_something(hand: Keyboard) -> None:
    """On the clip of the stage: say of two structures that they are shown, and pick a phrase of the bank."""
    page, hand.part = hand.page, "ticks and a phrase"
    for key in ("1", "2"):
        hand.press(key)
    page.wait_for_function("() => document.querySelectorAll('.tick:not(.unsaid)').length === 2")
    hand.press("/")
    page.wait_for_selector("#phrases [role=option]")
    hand.press("ArrowDown", "Enter")
    page.wait_for_selector(".added li.mentor")


def sign_papers(hand: Keyboard, look_for: str) -> None:
    """Keep what is proposed for the study as a whole, say the next exercise, sign summary and letter."""
    page, hand.part = hand.page, "letters"
    hand.press("F8")
    page.wait_for_selector("main.letters iframe")
    while page.locator(".finding .decision.none").count():
        left = page.locator(".finding .decision.none").count()
        hand.reach(".finding:has(.decision.none) .finding-head")
        hand.press("Enter")
        hand.reach(".finding:has(.decision.none) .detail .buttons button:first-child")
        hand.press("Enter")
        page.wait_for_function("left => document.querySelectorAll('.finding .decision.none').length < left", arg=left)
    hand.reach(".exercise select")
    hand.press("ArrowDown")
    hand.reach(".exercise input:not([type])")
    hand.write(look_for)
    for kind in ("Summary", "Letter"):
        hand.reach(f".paper[aria-label={kind}] header .sign")
        hand.press("Enter")
        page.wait_for_selector(f"[aria-label='Signature of the {kind.lower()}'] .sign:focus")
        hand.press("Enter")
        page.wait_for_selector(f".paper[aria-label={kind}] .signed")
