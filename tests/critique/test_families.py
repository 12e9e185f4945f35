"""What holds for every criterion family: limits, modes, and no alarm on a picture without a fault."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from fanlight.critique.accumulator import Family
from fanlight.critique.families import FAMILIES
from fanlight.reference.criteria import read_family
from fanlight.study import Mode, Verdict
from tests.critique.series import PLAIN
from tests.critique.speckle_phantom import HOUSE, Phantom, healthy, judge, make

PICTURE = tuple(family for family in FAMILIES if family.name != "time")  # time has tests of its own
SEEDS = range(20)


def _with_frames(frames: NDArray[np.uint8]) -> Phantom:
    return replace(make(replace(PLAIN, n_frames=1), np.random.default_rng(0)), frames=frames)


@pytest.mark.parametrize("family", PICTURE, ids=lambda family: family.name)
def test_a_black_picture_is_not_judged(family: Family) -> None:
    found = judge(_with_frames(np.zeros((12, 480, 640), np.uint8)), family)

    on_pixels = {k: f for k, f in found.items() if k not in ("scale_known", "pixel_aspect", "lossy_ratio")}
    assert on_pixels or family.name == "export"
    assert all(f.verdict is Verdict.NOT_ASSESSABLE for f in on_pixels.values())


@pytest.mark.parametrize("family", PICTURE, ids=lambda family: family.name)
def test_a_uniform_picture_raises_no_stripe_shadow_or_lung(family: Family) -> None:
    found = judge(_with_frames(np.full((12, 480, 640), 120, np.uint8)), family)

    assert all(f.verdict in (Verdict.MET, Verdict.NOT_ASSESSABLE) for f in found.values())


@pytest.mark.parametrize("family", PICTURE, ids=lambda family: family.name)
def test_one_frame_is_enough_for_an_answer_to_every_criterion(family: Family) -> None:
    found = judge(make(replace(PLAIN, n_frames=1), np.random.default_rng(5)), family)

    assert set(found) == set(read_family(HOUSE, family.name))


@pytest.mark.parametrize("mode", [Mode.M_MODE, Mode.PULSED_WAVE, Mode.NO_CONTACT])
@pytest.mark.parametrize("family", PICTURE, ids=lambda family: family.name)
def test_other_modes_are_not_judged_and_say_why(family: Family, mode: Mode) -> None:
    found = judge(replace(make(replace(PLAIN, n_frames=1), np.random.default_rng(5)), mode=mode), family)

    assert all(f.verdict is Verdict.NOT_ASSESSABLE and f.reason for f in found.values())


@pytest.mark.parametrize("size", [1, 5, 16])
def test_the_size_of_the_chunks_does_not_matter(size: int) -> None:
    phantom = make(replace(PLAIN, n_frames=16), np.random.default_rng(6))
    for family in PICTURE:
        whole, parts = judge(phantom, family, 16), judge(phantom, family, size)
        for key, found in whole.items():
            assert parts[key].verdict is found.verdict
            if found.value is not None:
                assert parts[key].value == pytest.approx(found.value, rel=1e-3, abs=1e-4)


def test_colour_of_flow_does_not_count_as_tissue() -> None:
    """Half the heart painted red and blue moves no grey level by more than a tenth of the range."""
    grey = make(replace(PLAIN, n_frames=10), np.random.default_rng(7))
    frames = np.repeat(grey.frames[..., None], 3, axis=3)
    frames[:, 180:330, 240:320] = (200, 20, 20)
    coloured = replace(grey, frames=frames, mode=Mode.COLOUR)
    for family in PICTURE:
        if family.name in ("gain", "penetration", "tgc", "near_field"):
            for key, found in judge(coloured, family).items():
                plain = judge(grey, family)[key]
                if plain.value is not None and found.value is not None:
                    assert found.value == pytest.approx(plain.value, abs=0.1), key


@pytest.fixture(scope="module")
def alarms() -> dict[str, int]:
    """How often each criterion is missed over healthy animals, consoles and screens drawn at random (ring A)."""
    count: dict[str, int] = {}
    for seed in SEEDS:
        rng = np.random.default_rng(seed)
        phantom = make(replace(healthy(rng), n_frames=14), rng)
        for family in PICTURE:
            for key, found in judge(phantom, family).items():
                alarm = found.verdict is Verdict.MISSED
                count[key] = count.get(key, 0) + alarm
    return count


def test_no_fault_no_alarm(alarms: dict[str, int]) -> None:
    """At most one false "missed" in twenty for any criterion."""
    assert {key: n for key, n in alarms.items() if n > 1} == {}
