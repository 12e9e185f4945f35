"""Views and landmarks that the picture network proposes, in a real browser: told, chosen, confirmed, taken back."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from fanlight.reference.load import load_house
from fanlight.review.conclude import conclude
from fanlight.review.events import ReviewFinished
from fanlight.study import SpatialFormat
from measure._service import Service
from tests.desk_browser.axe import violations
from tests.desk_browser.by_keyboard import Keyboard, decide_clips, say_something, sign_papers
from tests.desk_browser.conftest import (
    SCHEMES,
    all_sent,
    ask,
    at_rest,
    open_study,
    state_of,
    turn,
)
from tests.desk_browser.flow_clips import to_clip
from tests.desk_browser.proposed import DOUBT, clips_of, propose, truths_of
from tests.desk_browser.read_once import Read, keep, read_once

UNSURE, DOUBTED = 3, 5
HERE = ".tile.proposed[aria-current]"


@pytest.fixture(scope="module")
def proposed(house: Path, simulated_files: dict[str, Path], cache: Path, shared: Path) -> tuple[Read, Read]:
    """A simulated study twice: with one clip not sure and one doubted by the pixels, and proposed rightly."""
    truths, read = truths_of(simulated_files), read_once(simulated_files, house, cache=cache, shared=shared)
    mixed = propose(read, truths, house=house, unsure=UNSURE, doubted=DOUBTED, spectra=False)
    return mixed, propose(read, truths, house=house)


@pytest.fixture(scope="module")
def house(service: Service) -> Path:
    """The service's file of house settings."""
    return service.data.parent / "house.toml"


@pytest.fixture(scope="module")
def studies(service: Service, proposed: tuple[Read, Read]) -> tuple[str, str]:
    """Both in the service's store."""
    mixed, rightly = proposed
    return keep(service.data, mixed), keep(service.data, rightly)


@pytest.fixture
def mixed(studies: tuple[str, str]) -> str:
    return studies[0]


def is_spectrum(clip: Any) -> bool:
    return any(region["spatial_format"] == SpatialFormat.SPECTRAL for region in clip["regions"])


def light_and_dim(page: Any) -> list[str]:
    """Return what axe-core finds in both, and leave the page as it was."""
    found = []
    for _ in SCHEMES:
        turn(page)
        found += violations(page)
    turn(page)
    return found


def test_both_studies_are_told_as_the_engine_tells_them(proposed: tuple[Read, Read], house: Path) -> None:
    """It reads on while a study is open: what its draft then holds besides is asked about clips that were kept."""
    for read in proposed:
        (told,) = (each.review for each in read.events if isinstance(each, ReviewFinished))
        clips = sorted(clips_of(read), key=lambda each: each.clip.number)
        assert conclude(told.study, tuple(clips), told.refused, load_house(house)) == told


def test_a_proposal_is_told_in_words_and_by_shape(page: Any, mixed: str) -> None:
    """In its step with how sure it is, its tile round where others are square, and counted as not decided."""
    open_study(page, mixed)
    page.wait_for_selector(f".step.here {HERE}")
    page.wait_for_selector(".view-line .choice-of-view")  # the next likeliest comes with the whole reading
    clips = ask(page, f"/api/studies/{mixed}")["study"]["clips"]
    n = sum(not is_spectrum(each) for each in clips)

    assert page.locator(".view-line").inner_text().startswith("proposed, 93 %")
    assert "next likeliest" in page.locator(".view-line").inner_text()
    assert "proposed, 93 %, needs a decision" in page.get_attribute(HERE, "aria-label")
    assert page.locator(".tile.proposed").count() == n - 2
    radius = "each => getComputedStyle(each).borderTopLeftRadius"
    proposed, other = page.locator(".tile.proposed").last, page.locator(".unplaced .tile").first
    assert proposed.evaluate(radius) != other.evaluate(radius)
    assert page.locator(".left-over").inner_text() == f"{len(clips)} clips to decide"
    assert page.locator(".confirm-all").inner_text().startswith(f"confirm {n - 2} proposed views")
    assert light_and_dim(page) == []


def test_one_that_is_not_sure_is_placed_by_one_key(page: Any, mixed: str) -> None:
    """Its likeliest views stand there with their letters and shares; the letter places it, Backspace takes it back."""
    open_study(page, mixed)
    to_clip(page, UNSURE)
    page.wait_for_selector(".choice-of-view")
    words = page.locator(".view-line").inner_text()
    choices = page.locator(".choice-of-view")
    assert words.startswith("not sure")
    assert "none of the standard views 15 %" in words
    assert [text.split()[-2:] for text in choices.all_inner_texts()] == [["48", "%"], ["33", "%"]]
    assert light_and_dim(page) == []
    letter = choices.first.locator("kbd").inner_text()
    page.keyboard.press(letter)
    page.wait_for_selector(".view-line .mentor")
    assert "from the pixels: so too, 48 %" in page.locator(".view-line").inner_text()
    assert page.locator(".other-side").inner_text() == "left and right look exchanged, 96 %"
    all_sent(page)
    told_of_this_view = ".finding.missed:has-text('Chambers within the picture'):has-text('30 ± 4 %')"
    page.wait_for_selector(told_of_this_view)
    assert page.locator(".step.here .letter").inner_text() == letter
    page.keyboard.press("Backspace")
    page.wait_for_selector(".unsure-word")
    choices.first.click()
    page.wait_for_selector(".view-line .mentor")
    page.keyboard.press("Backspace")
    page.wait_for_selector(".unsure-word")
    all_sent(page)


def test_a_doubt_about_the_files_own_view_is_said_in_words(page: Any, mixed: str) -> None:
    open_study(page, mixed)
    to_clip(page, DOUBTED)
    page.wait_for_selector(".view-line .doubt")  # what the pixels say comes with the whole reading
    words = page.locator(".view-line").inner_text()

    assert "named in the file" in words
    assert DOUBT[1:] in words
    assert page.locator(HERE).count() == 0
    assert light_and_dim(page) == []


def test_one_key_confirms_all_and_one_takes_all_of_it_back(page: Any, mixed: str) -> None:
    """With the keyboard on a tile too; what is not sure stays where it is."""
    open_study(page, mixed)
    to_clip(page, 1)  # a press on the tile: it has the keyboard
    page.wait_for_selector(".tile.proposed")
    proposed = page.locator(".tile.proposed").count()
    page.keyboard.press("Shift+Enter")
    page.wait_for_selector(f".told:has-text('{proposed} proposed views confirmed.')")
    page.wait_for_function("() => !document.querySelector('.tile.proposed, .confirm-all')")
    placed = state_of(page, mixed)["placements"]
    assert len(placed) == proposed
    page.keyboard.press("Backspace")
    page.wait_for_selector(f".told:has-text('Taken back. {proposed} acts: place clip.')")
    assert state_of(page, mixed)["placements"] == {}
    page.wait_for_function("n => document.querySelectorAll('.tile.proposed').length === n", arg=proposed)
    page.keyboard.press("Shift+Backspace")
    page.wait_for_selector(f".told:has-text('Put back. {proposed} acts: place clip.')")
    assert state_of(page, mixed)["placements"] == placed
    page.keyboard.press("Backspace")
    page.wait_for_selector(".confirm-all")
    all_sent(page)


def test_landmarks_are_shown_named_kept_and_taken_back(page: Any, mixed: str) -> None:
    """Hidden at first; on their frame, with the keyboard alone; a kept one is a mark as any other."""
    open_study(page, mixed)
    page.wait_for_selector(".found-panel")
    assert page.locator(".found-shape").count() == 0
    page.keyboard.press("Shift+F2")
    page.wait_for_selector(".found-shape")
    n = page.locator(".found-shape").count()
    assert page.locator(".found-list li").count() == n > 3
    page.focus(".found-list li:nth-child(2) button")
    name = page.locator(".found-list li:nth-child(2) .found-name").inner_text()
    page.wait_for_selector(f".found-layer text:text-is('{name}, proposed, 90 %')")
    assert "mm" in page.locator(".found-list li:nth-child(2) .quiet").inner_text()
    assert light_and_dim(page) == []

    page.keyboard.press("Enter")
    page.wait_for_selector(f".mark-layer .handle[aria-label^='{name}']")
    (mark,) = state_of(page, mixed)["marks"]
    assert (mark["label"], mark["kind"]) == (name, "point")
    assert page.locator(".found-shape").count() == n - 1
    page.keyboard.press("Shift+F3")
    page.wait_for_function("n => document.querySelectorAll('.mark-shape').length === n", arg=n)
    assert len({each["landmark"] for each in state_of(page, mixed)["marks"]}) == n
    page.keyboard.press("Backspace")
    page.wait_for_function("n => document.querySelectorAll('.found-shape').length === n", arg=n - 1)
    page.keyboard.press("Backspace")
    page.wait_for_function("n => document.querySelectorAll('.found-shape').length === n", arg=n)
    assert state_of(page, mixed)["marks"] == []
    page.keyboard.press("Shift+F2")
    page.wait_for_selector(".found-shape", state="detached")


def test_a_study_that_is_proposed_rightly_by_keyboard_alone(
    page: Any, studies: tuple[str, str], views: dict[int, str], valves: dict[int, str]
) -> None:
    """One key a clip: Enter confirms its view and keeps its findings. A valve that no view tells is said besides."""
    study = studies[1]
    open_study(page, study)
    page.wait_for_selector(HERE)
    hand = Keyboard(page)
    gap, open_step = (page.locator(f".step .gap-word:text-is('{words}')") for words in ("gap", "nothing placed yet"))
    # An empty step is a gap only when every proposed view is decided: a clip proposed elsewhere may belong there.
    n_empty = open_step.count()
    assert (n_empty > 0, gap.count()) == (True, 0)

    clips = decide_clips(hand, views, valves)
    page.wait_for_function(
        "n => [...document.querySelectorAll('.gap-word')].filter(each => each.innerText === 'gap').length === n",
        arg=n_empty,
    )
    assert open_step.count() == 0
    say_something(hand)
    all_sent(page)
    at_rest(page, study)  # strips are measured anew when they are placed
    sign_papers(hand, "the whole left atrium")

    told = ask(page, f"/api/studies/{study}")
    one_key = {number: ("Enter",) for number in views if number not in valves}
    assert {clip.number: clip.pressed for clip in clips if clip.number in one_key} == one_key
    assert max(clip.keys for clip in clips) <= 4
    assert (
        hand.by_part["clips"] <= len(views) + 3
    )  # one colour clip of a view with two valves takes up to three letters
    assert {key: each["view"] for key, each in told["state"]["placements"].items()} == {
        clip["key"]: views[clip["number"]] for clip in told["study"]["clips"]
    }
    said = {clip["number"]: told["state"]["placements"][clip["key"]]["valve"] for clip in told["study"]["clips"]}
    assert {number: valve for number, valve in said.items() if valve} == valves
    assert [each["kind"] for each in told["documents"]] == ["summary", "letter"]
