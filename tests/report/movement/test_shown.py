"""Movements in the letter: pictures beside the words, labelled, and one line where there are none."""

from __future__ import annotations

import subprocess
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest

from fanlight.report.document import Document, Items, Moved, Paragraph
from fanlight.report.excerpt import CutPassage, Cutting, ExcerptError
from fanlight.report.html import render_html
from fanlight.report.letter import build_letter
from fanlight.report.mentor import MentorWords
from fanlight.report.movement.shown import movements_shown
from fanlight.report.passage import Passage
from fanlight.report.pdf import render_pdf
from fanlight.report.write import NO_ROOM, fit_letter, write_review
from fanlight.study import Breathing, CauseLevel, EitherMovement, Patient, Species, StudyReview
from tests.report.movement.moves import APICAL, HOUSE, moved_review, offset, stand
from tests.report.sample import InventedFrames, sample_review

PAIR = EitherMovement(
    first="slide", first_sense=1, first_probability=0.7, second="tilt", second_sense=-1, second_probability=0.4,
    probability=0.96,
)  # fmt: skip
AT = datetime(2026, 11, 27)


def _letter(review: StudyReview, mentor: MentorWords | None = None) -> Document:
    return build_letter(review, InventedFrames(), AT, mentor, movements=movements_shown(review, HOUSE))


def _moved(letter: Document) -> list[Moved]:
    return [item for item in letter.blocks if isinstance(item, Moved)]


def _text(pdf: bytes, folder: Path) -> str:
    (folder / "letter.pdf").write_bytes(pdf)
    done = subprocess.run(
        ["pdftotext", "-layout", str(folder / "letter.pdf"), "-"], capture_output=True, check=True, timeout=60
    )
    return done.stdout.decode()


def test_where_a_movement_is_asked_for_nothing_below_says_that_all_is_right() -> None:
    """With no missed criterion beside it; without a change the plain words stand."""
    asked = replace(moved_review(stand(offset("tilt", 9.0))), priorities=())
    plain = replace(asked, corrections=())
    said = [[block.text for block in _letter(each).blocks if isinstance(block, Paragraph)] for each in (asked, plain)]

    assert "Beside what is asked for above, no criterion that could be judged was missed." in said[0]
    assert "No criterion that could be judged was missed." in said[1]
    assert not set(said[0]) & {"No criterion that could be judged was missed."}


def test_a_movement_stands_with_its_pictures_and_other_changes_keep_their_list() -> None:
    """One drawing and a pair for what the probe should do; nothing for a setting of the console."""
    review = moved_review(stand(offset("tilt", 9.0)))
    console = replace(review.corrections[0], cause="gain_high", title="gain too high", level=CauseLevel.CONSOLE)
    letter = _letter(replace(review, corrections=(*review.corrections, console)))
    (item,) = _moved(letter)

    assert item.words.startswith("Probe tilted too far")
    assert [below.split(":")[0] for _, below in item.drawings] == ["Tilt"]
    assert [each.caption for each in item.pictures] == [
        "SIMULATION: as it was scanned (estimated)", "SIMULATION: after the movement",
    ]  # fmt: skip
    assert "drawn from a model of a healthy dog of 12 kg and not from this animal" in item.note
    assert "Look for: right ventricle and right atrium near the probe" in item.note
    after = letter.blocks[letter.blocks.index(item) + 1]
    assert isinstance(after, Items)
    assert after.entries[0].startswith("Gain too high")


def test_a_letter_that_names_no_movement_has_no_picture_of_one() -> None:
    """Nor does one whose advice is withheld."""
    assert _moved(_letter(sample_review())) == []
    withheld = _letter(moved_review(stand(offset("tilt", 9.0)), breathing=Breathing.LABOURED))
    assert _moved(withheld) == []
    assert "SIMULATION" not in render_html(withheld)


def test_an_either_or_has_two_drawings() -> None:
    review = moved_review(stand(offset("slide", 8.0, 0.7), offset("tilt", -6.0, 0.4), view=APICAL, pairs=(PAIR,)))
    (item,) = _moved(_letter(review))

    assert [drawing.alt.split(":")[0] for drawing, _ in item.drawings] == ["Either slide in the space", "Or tilt"]
    assert "After: whichever of the two is right." in item.note


@pytest.mark.parametrize(
    "patient", [Patient(), Patient(species=Species.CAT), Patient(weight_kg=9.0)], ids=["none", "no weight", "no kind"]
)
def test_without_species_or_weight_a_line_stands_in_place_of_the_pair(patient: Patient) -> None:
    """A model of the wrong size would teach the wrong picture; the way to move is the same for all."""
    (item,) = _moved(_letter(moved_review(stand(offset("tilt", 9.0)), patient=patient)))

    assert item.pictures == ()
    assert len(item.drawings) == 1
    assert item.note == "No simulated picture: the species or the weight of the animal is not known."


def test_what_the_model_cannot_carry_out_is_said_in_a_line() -> None:
    """The words of the movement stand; no picture is made up."""
    (item,) = _moved(_letter(moved_review(stand(offset("slide", -400.0, half=10.0)))))

    assert not item.pictures
    assert not item.drawings
    assert "No simulated picture: the model cannot make it (a slide of -400 mm" in item.note
    assert "No drawing: the model cannot carry the movement out" in item.note


def test_a_mentors_words_keep_the_pictures_of_their_movement() -> None:
    """The signed letter shows what the mentor kept, in the mentor's order."""
    review = moved_review(stand(offset("tilt", 9.0)))
    mentor = MentorWords(changes=("Less gain.", "Lean the cable forward."), change_causes=("gain_high", "tilt_plus"))
    letter = _letter(review, mentor)

    (item,) = _moved(letter)
    assert item.words == "Lean the cable forward."
    before = letter.blocks[letter.blocks.index(item) - 1]
    assert isinstance(before, Items)
    assert before.entries == ("Less gain.",)
    unknown = _letter(review, MentorWords(changes=("Less gain.",)))
    assert _moved(unknown) == []


def test_pdf_and_html_say_simulation_in_words_and_fetch_nothing(tmp_path: Path) -> None:
    letter = _letter(moved_review(stand(offset("tilt", 9.0))))
    pdf, _ = render_pdf(letter)
    page = render_html(letter)

    said = _text(pdf, tmp_path)
    assert said.count("SIMULATION") >= 3  # under each picture, and in the note
    assert "not from this animal" in " ".join(said.split())
    assert page.count("SIMULATION") >= 3
    assert "http" not in page.replace("http-equiv", "")
    assert "data:image/svg+xml;base64" in page
    assert 'alt="Tilt: cable end towards the' in page


def test_a_letter_without_room_loses_its_pairs_first_and_says_so() -> None:
    """The drawing says which way and stays; stills of what was scanned outlast what was only simulated."""
    views = ("right_parasternal_long_axis_four_chamber", "right_parasternal_short_axis_papillary_muscles", APICAL)
    names = ("tilt", "rotate", "rock")
    review = moved_review(
        *(stand(offset(name, 14.0), view=view, clip=f"clip{n:02d}") for n, (name, view) in
          enumerate(zip(names, views, strict=True), start=1))
    )  # fmt: skip
    review = replace(review, priorities=review.priorities * 2)
    fitted, _ = fit_letter(_letter(review))

    left = _moved(fitted)
    assert len(left) == 3
    without = [item for item in left if not item.pictures]
    assert without == left[len(left) - len(without) :]  # the last ones
    assert without
    assert all(item.note == NO_ROOM for item in without)
    assert [item.words for item in left] == [item.words for item in _moved(_letter(review))]


class _NoExcerpts(InventedFrames):
    """Frames, but no passage that plays."""

    def cut(self, passage: Passage, cutting: Cutting) -> CutPassage:
        raise ExcerptError("its frames cannot be decoded")


def test_what_a_review_writes_shows_the_movement_on_paper_and_on_screen(tmp_path: Path) -> None:
    """Drafted by the engine, without a mentor's word: letter.pdf and letter.html both hold drawing and pair."""
    review = moved_review(stand(offset("tilt", 9.0)))
    bare = tuple(replace(item, findings=()) for item in review.readings)  # the sample's criteria are in no table
    review = replace(review, readings=bare, study_findings=(), priorities=(), strengths=())
    written = {path.name: path.read_bytes() for path in write_review(review, HOUSE, _NoExcerpts(), tmp_path, AT)}

    page = written["letter.html"].decode()
    assert page.count('class="moved"') == 1
    assert page.count('class="sketch"') == 1
    assert "SIMULATION: after the movement" in page
    assert "SIMULATION" in _text(written["letter.pdf"], tmp_path)
    for name in ("summary.html", "study-sheet.html"):  # what was not scanned is in no clinical paper
        assert "SIMULATION" not in written[name].decode()
