"""Passages cut out of real files: by the process of the frames, and what a file that is broken or gone leaves."""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageSequence

from fanlight.intake import Item, Limits, gather, probe_item
from fanlight.reference.letter import ExcerptLimits
from fanlight.report.excerpt import CutPassage, Cutting, ExcerptError
from fanlight.report.passage import Passage, passage_of
from fanlight.review.opening import OpenStudy
from fanlight.review.passages import cut_passage
from fanlight.review.pictures import Pictures
from fanlight.study import Clip, ClipVerdict, StudyReview
from tests.intake.dicom_files import native
from tests.report.sample import reading, sample_review

LIMITS = ExcerptLimits(most_mb=25.0, sizes_px=(640,), quality=90, seconds_without_beat=1.0, seconds_max=2.0)
CUTTING = Cutting(longest_px=640, quality=90)


def silent(phase: str, *, within_s: float = 0.0, done: int = 0) -> None:
    """A sign of life that nobody waits for."""


@pytest.fixture(scope="module")
def clip_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Fifty frames of a grey that rises by four each frame, 25 a second."""
    pixels = np.repeat(np.array(range(20, 220, 4), np.uint8), 480 * 640).reshape(50, 480, 640)
    return native(
        tmp_path_factory.mktemp("clips") / "IM1.dcm", pixels, FrameTime="40", FrameIncrementPointer=0x00181063
    )


@pytest.fixture(scope="module")
def opened(clip_file: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Item, Clip]:
    item = gather(clip_file, tmp_path_factory.mktemp("scratch"), Limits()).items[0]
    return item, probe_item(item, Limits()).clips[0]


def cited(clip: Clip) -> Passage:
    """The beat from frame 10 to 34, cited at frame 20."""
    made = reading(1, (), ClipVerdict.DIAGNOSTIC)
    time = replace(made.time, times=clip.times, r_frames=(10.0, 35.0), beat_period_frames=25.0)
    found = passage_of(replace(made, clip=clip, time=time, frames_read=50), 20, (), "Focal depth", LIMITS)
    assert found is not None
    return found


def middles(data: bytes) -> list[int]:
    """The grey in the middle of each picture."""
    frames = [np.asarray(frame.convert("L")) for frame in ImageSequence.Iterator(Image.open(io.BytesIO(data)))]
    return [int(frame[frame.shape[0] // 2, frame.shape[1] // 2]) for frame in frames]


def test_the_cited_frames_are_cut_and_no_others(opened: tuple[Item, Clip]) -> None:
    item, clip = opened

    cut = cut_passage(item, clip, Limits(), cited(clip), CUTTING, beat=silent)

    assert isinstance(cut, CutPassage)
    assert middles(cut.moving) == pytest.approx([20 + 4 * k for k in range(10, 35)], abs=2)  # lossy
    assert middles(cut.still) == pytest.approx([100], abs=2)


def test_a_file_that_ends_early_leaves_the_passage_out(opened: tuple[Item, Clip], tmp_path: Path) -> None:
    item, clip = opened
    short = tmp_path / "IM1.dcm"
    data = item.path.read_bytes()
    short.write_bytes(data[: len(data) - 25 * 480 * 640])

    answer = cut_passage(replace(item, path=short), clip, Limits(), cited(clip), CUTTING, beat=silent)

    assert answer == "some of its frames cannot be decoded"


def test_where_the_picture_ends_must_be_known(opened: tuple[Item, Clip]) -> None:
    item, clip = opened
    found = cited(clip)

    answer = cut_passage(
        item, clip, Limits(), replace(found, layout=replace(found.layout, picture=None)), CUTTING, beat=silent
    )

    assert isinstance(answer, str)
    assert "names on it could not be left out" in answer


@pytest.fixture
def study(opened: tuple[Item, Clip]) -> Iterator[tuple[OpenStudy, StudyReview]]:
    """A study of this one clip, its files at hand."""
    item, clip = opened
    review = sample_review()
    with OpenStudy() as files:
        files.items[clip.key] = item
        yield files, replace(review, readings=(replace(review.readings[0], clip=clip),))


def test_reports_get_passages_from_a_process_of_their_own(study: tuple[OpenStudy, StudyReview]) -> None:
    files, review = study
    passage = cited(review.readings[0].clip)
    with Pictures(files, review) as pictures:
        cut = pictures.cut(passage, CUTTING)

        assert len(middles(cut.moving)) == 25
        with pytest.raises(ExcerptError, match="names on it could not be left out"):
            pictures.cut(replace(passage, layout=replace(passage.layout, picture=None)), CUTTING)
