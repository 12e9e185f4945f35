"""Pictures of a movement at the desk: with the change that a mentor looks at, and in the letter that keeps it."""

from __future__ import annotations

from dataclasses import replace

from fanlight.heart.fit.seen import Moment
from fanlight.heart.movements import Movement
from fanlight.review.conclude import conclude
from fanlight.store import ChangeWord, Store, add_entry
from fanlight.store.actions import DrawMark, JudgeChange
from fanlight.study import House, MarkKind, StudyReview
from tests.desk.browser import Browser, new_id
from tests.desk.drafts import draft, keep
from tests.heart.fit.cases import clip_of
from tests.plane.clips import FAN, FOUR, PX_PER_MM, clip

KEY = "clip01"
FRAMES = {Moment.END_DIASTOLE: 0, Moment.END_SYSTOLE: 6}  # of tests.plane.clips.BEAT


def tilted(house: House) -> StudyReview:
    """A draft whose first clip is a long axis that nobody has marked yet."""
    whole = draft()
    first, old = clip(FOUR), whole.readings[0]
    first = replace(first, clip=replace(first.clip, key=KEY, number=old.clip.number, name=old.clip.name))
    study = replace(whole.study, clips=(first.clip, *whole.study.clips[1:]))
    return conclude(study, (first, *whole.readings[1:]), (), house)


def marks() -> list[DrawMark]:
    """What a mentor marks of a probe that was tilted by 12 degrees."""
    seen = clip_of(302, FOUR, {Movement.TILT: 12.0}, noise_fraction=0.01)
    return [
        DrawMark(
            mark=f"{one.landmark.name} {one.moment}", clip=KEY, frame=FRAMES[one.moment], kind=MarkKind.POINT,
            points=((one.down_mm * PX_PER_MM, FAN.apex_col_px + one.right_mm * PX_PER_MM),),
            landmark=one.landmark.name,
        )
        for one in seen.seen
    ]  # fmt: skip


def marked(store: Store, house: House) -> str:
    study = keep(store, tilted(house))
    for act in marks():
        add_entry(store, study, act, author="M. Linden", entry=new_id())
    return study


def test_a_change_that_is_a_movement_shows_its_pictures(browser: Browser, store: Store, house: House) -> None:
    """Strokes with a part each, so that a theme may draw them; a pair that says what it is; no address to fetch."""
    study = marked(store, house)

    (change,) = browser.get(f"/api/studies/{study}/changes").json()["changes"]
    assert (change["cause"], change["is_movement"]) == ("tilt_plus", True)
    shown = browser.get(f"/api/studies/{study}/changes/tilt_plus/pictures").json()
    (sketch,) = shown["sketches"]
    assert sketch["title"].startswith("Tilt: cable end towards the")
    assert {"rib", "sternum", "probe", "ghost", "marker", "arrow", "head"} <= {
        each["part"] for each in sketch["strokes"]
    }
    assert {each["text"] for each in sketch["labels"]} == {"head", "tail", "back", "sternum", "foreleg"}
    assert [each["caption"] for each in shown["pictures"]] == [
        "SIMULATION: as it was scanned (estimated)", "SIMULATION: after the movement",
    ]  # fmt: skip
    assert all(each["source"].startswith("data:image/png;base64,") for each in shown["pictures"])
    assert "not from this animal" in shown["note"]


def test_what_is_no_movement_has_no_pictures(browser: Browser, store: Store, house: House) -> None:
    study = marked(store, house)

    nothing = {"sketches": [], "pictures": [], "note": ""}
    assert browser.get(f"/api/studies/{study}/changes/gain_high/pictures").json() == nothing
    unmarked = keep(store, tilted(house))
    assert browser.get(f"/api/studies/{unmarked}/changes/tilt_plus/pictures").json() == nothing


def test_the_letter_shows_a_movement_that_is_kept_and_no_other(browser: Browser, store: Store, house: House) -> None:
    """What the mentor has not decided on, or threw out, leaves no picture behind."""
    study = marked(store, house)
    page = f"/api/studies/{study}/letter"
    assert "SIMULATION" not in browser.get(page).text

    add_entry(
        store, study, JudgeChange(cause="tilt_plus", word=ChangeWord.KEPT), author="M. Linden", entry=new_id()
    )  # fmt: skip
    kept = browser.get(page).text
    assert kept.count("SIMULATION") >= 3
    assert "Probe tilted too far" in kept
    assert kept == browser.get(page).text  # drawn once, and the same again

    add_entry(
        store, study, JudgeChange(cause="tilt_plus", word=ChangeWord.THROWN_OUT), author="M. Linden", entry=new_id()
    )  # fmt: skip
    assert "SIMULATION" not in browser.get(page).text
