"""What is proposed, what is called not sure, and what is never overruled; and where landmarks come to lie."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fanlight.heart.animal import animal_landmarks
from fanlight.recognise import picture_network
from fanlight.recognise.beat_frames import BeatFrames
from fanlight.recognise.picture_network import PictureNetworkMissingError, network_hash, open_network, shipped_network
from fanlight.recognise.picture_reading import read_picture, why_not_asked, with_proposal
from fanlight.reference.chambers import ViewChambers
from fanlight.reference.recognition import RecognitionLimits
from fanlight.simulate.clip.one_beat import one_beat
from fanlight.simulate.steady.steady import steady_setting
from fanlight.study import (
    NOT_KNOWN,
    Box,
    Landmark,
    Layout,
    Mode,
    ModeReading,
    PictureReading,
    Sector,
    Strip,
    Valve,
    ViewReading,
    ViewShare,
    ViewSource,
)
from training.randomise import draw_subject

LIMITS = RecognitionLimits(view_from=0.7, unnamed_to=0.08, chamber_from=0.01, landmark_from=0.6, name_differs_from=0.95)
CHAMBERS: dict[str, ViewChambers] = {}  # nothing is asked of them here: tests/recognise/test_odd_picture.py
TITLES = {"long": "Long axis", "short": "Short axis"}
HELD_OUT_SEED = 9731  # ring A, kept from training
VIEW = "right_parasternal_long_axis_four_chamber"


def said(*shares: tuple[str, float]) -> PictureReading:
    return PictureReading(frames=(0,), views=tuple(ViewShare(view=v, probability=p) for v, p in shares), network="x")


def plain_layout() -> Layout:
    sector = Sector(apex_row_px=0.0, apex_col_px=40.0, left_deg=-30.0, right_deg=30.0, near_px=0.0, far_px=60.0)
    return Layout(
        rows=80, cols=80, picture=sector, picture_confidence=1.0, picture_reason="", scale=None, scale_reason=""
    )


def test_a_view_above_the_limit_is_proposed_with_its_probability_and_keeps_the_valve() -> None:
    found = with_proposal(
        replace(NOT_KNOWN, valve=Valve.MITRAL), said(("long", 0.7), ("", 0.3)), LIMITS, TITLES, CHAMBERS
    )
    assert found == ViewReading(view="long", source=ViewSource.RECOGNISED, probability=0.7, valve=Valve.MITRAL)


@pytest.mark.parametrize(
    ("picture", "words"),
    [
        (said(("long", 0.69), ("short", 0.2)), "not sure from the picture: Long axis (69 %), Short axis (20 %)"),
        (said(("", 0.9), ("long", 0.1)), "the picture looks like none of the standard views (90 %)"),
    ],
)
def test_below_the_limit_and_off_all_views_it_says_so_and_names_none(picture: PictureReading, words: str) -> None:
    found = with_proposal(NOT_KNOWN, picture, LIMITS, TITLES, CHAMBERS)
    assert (found.view, found.source) == ("", ViewSource.NOT_KNOWN)
    assert found.reason.endswith(words)


def test_what_a_person_or_a_file_named_stands_and_a_sure_doubt_is_said_beside_it() -> None:
    named = ViewReading(view="short", source=ViewSource.VIEW_CODE)
    assert with_proposal(named, said(("long", 0.94)), LIMITS, TITLES, CHAMBERS) == named
    assert with_proposal(named, said(("short", 0.99)), LIMITS, TITLES, CHAMBERS) == named
    doubted = with_proposal(named, said(("long", 0.96)), LIMITS, TITLES, CHAMBERS)
    assert doubted == replace(named, reason="the picture looks like Long axis (96 %)")


def test_without_a_reading_nothing_changes() -> None:
    assert with_proposal(NOT_KNOWN, None, LIMITS, TITLES, CHAMBERS) == NOT_KNOWN
    assert with_proposal(NOT_KNOWN, PictureReading(reason="no network"), LIMITS, TITLES, CHAMBERS) == NOT_KNOWN


@pytest.mark.parametrize("mode", [mode for mode in Mode if mode not in (Mode.TWO_D, Mode.COLOUR)] + [None])
def test_only_pictures_in_a_sector_are_looked_at_with_or_without_colour(mode: Mode | None) -> None:
    strip = replace(plain_layout(), picture=Strip(box=Box(row0=0, col0=0, row1=10, col1=10)))
    asked = ModeReading(mode=mode, probability=0.9, reasons=())
    plain = ModeReading(mode=Mode.TWO_D, probability=0.9, reasons=())
    assert "only 2-D pictures and colour clips" in why_not_asked(asked, plain_layout())
    assert "no sector" in why_not_asked(plain, strip)
    assert why_not_asked(plain, plain_layout()) == ""
    assert why_not_asked(replace(plain, mode=Mode.COLOUR), plain_layout()) == ""
    assert "no sector" in why_not_asked(replace(plain, mode=Mode.COLOUR), strip)


def test_a_missing_network_says_what_is_missing_and_what_to_do(monkeypatch: pytest.MonkeyPatch, tmp_path) -> None:
    with pytest.raises(PictureNetworkMissingError, match=r"no file .*none\.onnx; install fanlight again"):
        open_network(tmp_path / "none.onnx")
    (tmp_path / "broken.onnx").write_bytes(b"no network")
    with pytest.raises(PictureNetworkMissingError, match="a file that is no such network"):
        open_network(tmp_path / "broken.onnx")
    monkeypatch.setattr(picture_network, "find_spec", lambda name: None)
    network_hash.cache_clear()
    try:
        assert network_hash() == ""
    finally:
        network_hash.cache_clear()


def test_landmarks_lie_where_the_animal_has_them_in_pixels_of_the_stored_frame() -> None:
    """A clip with truth, read by the shipped network: its view, and landmarks within 4 mm in an animal of this size.

    The truth is the model's own geometry; 4 mm is engineering judgement, about a tenth of the ventricle.
    """
    subject = draw_subject(HELD_OUT_SEED)
    setting = steady_setting(subject.animal, VIEW)
    setting = replace(setting, console=replace(setting.console, n_lines=88, n_samples=320))
    rate_hz = 6 * subject.animal.rhythm.rate_bpm / 60
    clip = one_beat(subject.animal, setting, np.random.default_rng(3), rows=420, cols=560, rate_hz=rate_hz)
    assert clip.layout.scale is not None
    frames = BeatFrames(clip.picture)
    for chunk in clip.chunks(4):
        frames.add(chunk)
    reading = read_picture(shipped_network(), frames, clip.picture, clip.time)

    assert (reading.views[0].view, reading.views[0].probability > 0.6) == (VIEW, True)
    assert reading.network == network_hash()
    found = [item for item in reading.landmarks if item.probability >= 0.6]
    assert Landmark.MITRAL_SEPTAL_HINGE.name in {item.landmark for item in found}
    assert len({item.frame for item in found}) == 2  # the beginning of the beat, and the end of systole
    for item in found:
        true = animal_landmarks(subject.animal, clip.film.states[item.frame])[Landmark[item.landmark]]
        right, _, deep = setting.pose.to_probe(true)
        away = np.subtract(item.point, (clip.picture.apex_row_px, clip.picture.apex_col_px))
        found_mm = away * clip.layout.scale.mm_per_row_px
        assert np.hypot(found_mm[0] - deep, found_mm[1] - right) < 4.0, item
        assert item.spread_px > 0
