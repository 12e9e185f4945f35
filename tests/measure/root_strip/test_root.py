"""Aorta and left atrium off a strip that is drawn from known diameters."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fanlight.measure.m_mode import MModeStrip, Seen
from fanlight.measure.root_strip import measure_root
from fanlight.measure.root_strip.root import AORTA, ATRIUM, RATIO, _ratio
from fanlight.measure.root_strip.walls import FAR, NEAR, RootWalls, _why_others
from fanlight.measure.strip_lines.m_mode import OnPicture
from fanlight.measure.strip_lines.root import root_lines
from fanlight.measure.valve_strip.strip_beats import tissue_and_beats
from fanlight.reference.load import load_house
from fanlight.reference.methods import match_method
from fanlight.study import ENGINE, Measurement
from tests.measure.m_mode.drawn_strip import MM_PER_ROW, Ventricle
from tests.measure.m_mode.drawn_strip import strip_of as ventricle_strip
from tests.measure.root_strip.drawn_root import CHEST_MM, OUTFLOW_MM, Root, root_strip_of, walls_mm
from tests.measure.valve_strip.drawn_mitral import Valve
from tests.measure.valve_strip.drawn_mitral import strip_of as mitral_strip

HALF_MM, HALF_TENTH = 0.5, 0.05
ROOT = Root()
NO_VESSEL = "what lies between the walls is tissue at all times: the cursor does not run through the aorta"


def _by_name(strip: MModeStrip) -> dict[str, Measurement]:
    return {item.name: item for item in measure_root(strip, Seen(clip="a", frame=3)).measurements}


@pytest.mark.parametrize(
    "root",
    [
        ROOT,
        Root(aorta_mm=11.0, atrium_mm=13.0, fills_mm=2.0),
        Root(aorta_mm=13.0, atrium_mm=26.0),
        Root(has_cusps=False),
    ],
    ids=["usual", "small", "a large atrium", "no cusps in the beam"],
)
def test_diameters_are_those_that_were_drawn(root: Root) -> None:
    """Aorta at the R wave, atrium at its largest, cusps on the wall or not; each within its own 95 % band."""
    found = _by_name(root_strip_of(root))

    for name, true, within in (
        (AORTA, root.aorta_mm, HALF_MM),
        (ATRIUM, root.atrium_mm, HALF_MM),
        (RATIO, root.atrium_mm / root.aorta_mm, 2 * HALF_TENTH),
    ):
        item = found[name]
        assert item.value == pytest.approx(true, abs=within)
        assert item.value is not None
        assert item.uncertainty is not None
        assert abs(item.value - true) < 1.96 * item.uncertainty
        assert (item.given_by, item.clip, item.frames) == (ENGINE, "a", (3,))


@pytest.mark.parametrize("gain_db", [-8.0, 8.0])
def test_gain_does_not_change_them(gain_db: float) -> None:
    usual, other = _by_name(root_strip_of(ROOT)), _by_name(root_strip_of(ROOT, gain_db=gain_db))
    for name in (AORTA, ATRIUM):
        assert other[name].value == pytest.approx(usual[name].value, abs=0.3)


def test_the_ratio_of_m_mode_has_a_name_and_words_of_its_own() -> None:
    """It is never taken for the LA:Ao of the short axis, and its parts are taken as of M-mode."""
    found = _by_name(root_strip_of(ROOT))
    assert "la_ao" not in found
    for item in found.values():
        assert match_method(load_house(), item.method).technique == ("m_mode",)


def test_an_error_of_the_scale_takes_itself_out_of_the_ratio() -> None:
    strip = root_strip_of(ROOT)
    sure, vague = _by_name(strip), _by_name(replace(strip, mm_share=0.1))
    assert vague[RATIO].uncertainty == pytest.approx(sure[RATIO].uncertainty, rel=0.05)
    assert vague[AORTA].uncertainty == pytest.approx(np.hypot(sure[AORTA].uncertainty or 0, 1.4), rel=0.1)


def test_the_wall_between_the_two_errs_in_both_parts_of_the_ratio() -> None:
    """Against propagation of distributions (JCGM 101:2008, 7): three walls that err by 0.5 mm each, independently."""
    near, far, behind = np.random.default_rng(0).normal([[0.0], [14.0], [34.0]], 0.5, (3, 200_000))
    none = Measurement(name="", label="", value=None, unit="mm")
    aorta, atrium = (replace(none, value=value, uncertainty=0.5 * 2**0.5) for value in (14.0, 20.0))
    strip = replace(root_strip_of(ROOT), mm_per_row=1e-6)  # pixels of no size

    ratio = _ratio(aorta, atrium, 0.5, strip, Seen())
    assert ratio.uncertainty == pytest.approx(np.std((behind - far) / (far - near)), rel=0.02)


@pytest.mark.parametrize(
    ("strip", "said"),
    [
        pytest.param(root_strip_of(ROOT, with_ecg=False), "no R waves are read", id="no ECG"),
        pytest.param(mitral_strip(Valve()), NO_VESSEL, id="a strip through the mitral valve"),
        pytest.param(ventricle_strip(Ventricle()), NO_VESSEL, id="through the ventricle"),
    ],
)
def test_what_is_no_root_is_refused_with_the_reason(strip: MModeStrip, said: str) -> None:
    for item in _by_name(strip).values():
        assert item.value is None
        assert said in item.reason


@pytest.mark.parametrize(
    ("wall", "moved_mm", "seen_share", "said"),
    [
        pytest.param(NEAR, 0.0, 1.0, "", id="the walls that were drawn"),
        pytest.param(NEAR, CHEST_MM - OUTFLOW_MM, 1.0, "no blood of the right outflow", id="end of the chest's wall"),
        pytest.param(FAR, 27.0, 1.0, "does not bound the aorta", id="a border within tissue"),
        pytest.param(FAR, 0.0, 0.6, "comes and goes, as cusps do", id="a line that is there for part of the beat"),
    ],
)
def test_a_wall_that_is_another_is_told_from_the_one_it_was_taken_for(
    wall: int, moved_mm: float, seen_share: float, said: str
) -> None:
    """What lies directly before a wall, and whether it stays, tells it from the chest's, from tissue and from cusps."""
    strip = root_strip_of(ROOT)
    ready = tissue_and_beats(strip)
    assert not isinstance(ready, str)
    tissue, beats = ready
    rows = walls_mm(ROOT) / strip.mm_per_row
    rows[wall] += moved_mm / strip.mm_per_row
    seen = np.ones(rows.shape, bool)
    seen[FAR, round(seen_share * len(seen[FAR])) :] = False
    walls = RootWalls(rows=rows, seen=seen, blur_mm=(0.3, 0.3, 0.3))

    why = _why_others(strip, tissue, walls, beats.beats)
    assert said in why
    assert bool(why) == bool(said)


def test_a_black_strip_and_a_tiny_one_are_refused() -> None:
    strip = root_strip_of(ROOT)
    for bad, said in ((np.zeros_like(strip.levels), "equally bright"), (strip.levels[:30, :20], "at least 48 and 32")):
        for item in _by_name(replace(strip, levels=bad)).values():
            assert item.value is None
            assert said in item.reason


def test_lines_run_along_the_walls_and_pairs_are_as_long_as_the_numbers() -> None:
    strip = root_strip_of(ROOT)
    lines = root_lines(measure_root(strip), OnPicture(strip, 40, 60), 0, load_house())

    assert {course.name for course in lines.courses} == {"aorta_near", "aorta_far", "atrium_far"}
    pairs = [place for place in lines.places if place.quantity == AORTA]
    assert len(pairs) == 3
    for place in pairs:
        (upper, _), (lower, _) = place.points
        assert (lower - upper) * MM_PER_ROW == pytest.approx(place.value, abs=0.05)
        assert upper == pytest.approx(40 - 0.5 + OUTFLOW_MM / MM_PER_ROW, abs=HALF_MM / MM_PER_ROW)
