"""The simulated pair: labelled, repeatable, as deep as the clip, and different where the probe stood off."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from fanlight.report.movement.chosen import ChosenMove, chosen_moves
from fanlight.report.movement.simulated import SectorSize, sector_size_of, simulated_pair
from fanlight.study import Breathing, Sector, Species
from tests.report.movement.moves import TABLES, moved_review, offset, stand

SIZE = SectorSize(depth_mm=110.0, width_deg=84.0)
BAND_PX = 26


def _move(mean: float = 9.0, clip: str = "clip01") -> ChosenMove:
    review = moved_review(stand(offset("tilt", mean), clip=clip))
    return next(iter(chosen_moves(review.corrections, review.stands, TABLES, Breathing.NORMAL).values()))


def _pixels(png: bytes) -> NDArray[np.uint8]:
    found = cv2.imdecode(np.frombuffer(png, np.uint8), cv2.IMREAD_UNCHANGED)
    assert found is not None
    assert found.ndim == 2  # grey, as the machine paints it
    return np.asarray(found, np.uint8)


def test_the_same_clip_gives_the_same_bytes_and_another_clip_another_speckle() -> None:
    """A letter that is made again is the same letter."""
    first = simulated_pair(Species.DOG, 12.0, _move(), SIZE)
    simulated_pair.cache_clear()

    again = simulated_pair(Species.DOG, 12.0, _move(), SIZE)
    assert (again.before, again.after) == (first.before, first.after)
    assert simulated_pair(Species.DOG, 12.0, _move(clip="clip02"), SIZE).after != first.after


def test_both_pictures_carry_their_label_outside_of_the_sector() -> None:
    """What is cut out of a letter and sent on still says what it is: the band holds the letters that were put there."""
    pair = simulated_pair(Species.DOG, 12.0, _move(), SIZE)

    for png, when in ((pair.before, "before"), (pair.after, "after")):
        band = _pixels(png)[-BAND_PX:]
        expected = np.zeros_like(band)
        for words, is_right in (("SIMULATION", False), (when, True)):
            (width, height), _ = cv2.getTextSize(words, cv2.FONT_HERSHEY_SIMPLEX, 0.6, 1)
            place = (band.shape[1] - width - 8 if is_right else 8, (BAND_PX + height) // 2)
            cv2.putText(expected, words, place, cv2.FONT_HERSHEY_SIMPLEX, 0.6, 205, 1, cv2.LINE_AA)
        assert np.array_equal(band, expected)
        assert int((band > 100).sum()) > 200


def test_the_farther_off_the_probe_stood_the_less_the_pictures_are_alike() -> None:
    """Before shows the fault, after the standard view: a small tilt changes little, a large one much."""
    apart = []
    for mean in (0.5, 4.0, 10.0):
        pair = simulated_pair(Species.DOG, 12.0, _turned(mean), SIZE)
        before, after = (
            cv2.GaussianBlur(_pixels(png)[:-BAND_PX].astype(np.float32), (0, 0), 4) for png in (pair.before, pair.after)
        )
        apart.append(float(np.mean(np.abs(before - after))))

    assert apart[0] < apart[1] < apart[2]


def _turned(mean: float) -> ChosenMove:
    move = _move()
    return replace(move, stood=(("tilt", mean),), back=(replace(move.back[0], amount=-mean),))


def test_depth_and_width_are_those_of_the_clip_where_they_are_known() -> None:
    """The sector that a trainee had is the sector that the pictures have; without one the model's own is taken."""
    reading = moved_review(stand(offset("tilt", 9.0))).readings[0]
    size = sector_size_of(reading)
    assert (size.depth_mm, size.width_deg) == pytest.approx((420 * 0.28, 84.0))
    bare = replace(reading, layout=replace(reading.layout, picture=None))
    assert sector_size_of(bare) == SectorSize(depth_mm=None, width_deg=None)
    curved = Sector(apex_row_px=-60, apex_col_px=320, left_deg=-30, right_deg=30, near_px=80, far_px=420)
    seen = sector_size_of(replace(reading, layout=replace(reading.layout, picture=curved)))
    assert seen.width_deg == pytest.approx(2 * np.degrees(np.arctan2(210, 420 * np.cos(np.pi / 6) - 80)))

    deep, shallow = (
        _pixels(simulated_pair(Species.DOG, 12.0, _move(), SectorSize(depth_mm=depth, width_deg=84.0)).after)
        for depth in (160.0, 80.0)
    )
    # The heart's bright far border lies twice as far down the picture that is half as deep.
    far = [int(np.argmax(cv2.blur(each[60:-BAND_PX, 180:200], (20, 5)).mean(axis=1))) + 60 for each in (deep, shallow)]
    assert far[1] > 1.5 * far[0]


def test_what_the_model_cannot_carry_out_is_refused_with_the_reason() -> None:
    """A slide over the middle of the sternum is no slide: the letter says so in place of a picture."""
    move = replace(_move(), stood=(("slide", -400.0),))

    with pytest.raises(ValueError, match="slide of -400 mm along the space would leave this side of the chest"):
        simulated_pair(Species.DOG, 12.0, move, SIZE)
