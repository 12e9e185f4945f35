"""The fast path: one beat without screen and file, ready for a criterion."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fanlight.critique.families import FAMILIES
from fanlight.heart.animal import Animal, draw_animal
from fanlight.heart.kinds import Chest, HeartClass
from fanlight.reference.load import load_house
from fanlight.simulate.clip.clip_setting import ClipSetting
from fanlight.simulate.clip.one_beat import OneBeat, one_beat
from fanlight.simulate.faults.faults import apply, make
from fanlight.simulate.steady.steady import steady_setting
from fanlight.study import Mode, Species, Verdict
from tests.simulate.judged import judge

LONG = "right_parasternal_long_axis_four_chamber"
GAIN = next(family for family in FAMILIES if family.name == "gain")


@pytest.fixture(scope="module")
def animal() -> Animal:
    return draw_animal(species=Species.DOG, weight_kg=9.0, heart=HeartClass.NORMAL, chest=Chest.AVERAGE, seed=21)


@pytest.fixture(scope="module")
def setting(animal: Animal) -> ClipSetting:
    good = steady_setting(animal, LONG)
    return replace(good, console=replace(good.console, n_lines=64, n_samples=256))  # coarse: the test need not wait


def made(animal: Animal, setting: ClipSetting) -> OneBeat:
    return one_beat(animal, setting, np.random.default_rng(3), rows=240, cols=320, rate_hz=16.0)


@pytest.fixture(scope="module")
def good(animal: Animal, setting: ClipSetting) -> OneBeat:
    return made(animal, setting)


def test_it_is_one_beat_of_the_animal_with_its_true_scale(animal: Animal, setting: ClipSetting, good: OneBeat) -> None:
    assert good.time.complete_beats == pytest.approx(1.0, abs=0.35)  # whole frames of 1/16 s
    assert good.time.heart_rate_bpm == pytest.approx(animal.rhythm.rate_bpm, rel=0.15)
    assert good.layout.scale is not None
    depth_mm = good.layout.scale.mm_per_row_px * good.picture.depth_px
    assert depth_mm == pytest.approx(setting.console.depth_mm)
    assert good.frames.shape[1:] == (240, 320)


def test_its_chunks_are_all_frames_once(good: OneBeat) -> None:
    chunks = list(good.chunks(size=3))

    assert [chunk.first for chunk in chunks] == list(range(0, len(good.frames), 3))
    assert np.array_equal(np.concatenate([chunk.grey for chunk in chunks]), good.frames)


def test_a_criterion_sees_a_gross_fault_in_it_and_none_in_the_good_one(
    animal: Animal, setting: ClipSetting, good: OneBeat
) -> None:
    fault = make("gain_high", 5, animal, np.random.default_rng(1))
    loud = made(animal, apply(fault, setting, animal))
    house = load_house()

    assert judge(good, GAIN, house)["overall_gain"].verdict is Verdict.MET
    assert judge(loud, GAIN, house)["overall_gain"].verdict is Verdict.MISSED


def test_an_enlarged_export_keeps_size_and_scale_true(animal: Animal, setting: ClipSetting, good: OneBeat) -> None:
    larger = made(animal, replace(setting, recording=replace(setting.recording, scale_ratio=1.5)))

    assert larger.frames.shape[1:] == (360, 480)
    assert larger.layout.scale is not None
    assert good.layout.scale is not None
    assert larger.layout.scale.mm_per_row_px == pytest.approx(good.layout.scale.mm_per_row_px / 1.5)
    assert larger.picture.depth_px == pytest.approx(good.picture.depth_px * 1.5)


def test_an_m_mode_is_refused(animal: Animal, setting: ClipSetting) -> None:
    with pytest.raises(ValueError, match="makes 2-D clips"):
        made(animal, replace(setting, mode=Mode.M_MODE))
