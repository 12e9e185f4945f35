"""A guide that stands still beside a running strip is no fault of the export; a still clip of pictures is."""

from __future__ import annotations

from dataclasses import dataclass
from types import SimpleNamespace
from typing import Any, cast

import pytest

from fanlight.critique.accumulator import Accumulator, ClipContext, Family
from fanlight.critique.every_family import EVERY_FAMILY
from fanlight.critique.guide_stands import without_still_guides
from fanlight.study import BeatSource, Box, ClipTime, Finding, FrameTimes, Mode, ModeReading, Sector, Strip, Verdict
from tests.report.sample import finding

GUIDE = Sector(apex_row_px=10, apex_col_px=100, left_deg=-30, right_deg=30, near_px=0, far_px=90)
STRIP = Strip(box=Box(row0=100, col0=10, row1=200, col1=300))
REPEATS = finding("frozen_frames", 1, Verdict.MISSED, 1.0, confidence=0.9)
ECG = finding("ecg_present", 1, Verdict.MET, 1.0, confidence=0.9)
TIME = ClipTime(times=FrameTimes(), beat_source=BeatSource.NONE)


@dataclass(frozen=True)
class _Says:
    repeats: Finding

    def add(self, chunk: object) -> None:
        """Take a chunk: what is said here hangs on none."""

    def finish(self, time: ClipTime) -> tuple[Finding, ...]:
        return self.repeats, ECG


def _told(mode: Mode | None, picture: object, repeats: Finding = REPEATS) -> dict[str, Finding]:
    says = Family(name="time", version=3, start=lambda _: cast(Accumulator, _Says(repeats)))
    reading = ModeReading(mode=mode, probability=0.9, reasons=())
    context = cast(ClipContext, SimpleNamespace(mode=reading, layout=SimpleNamespace(picture=picture)))
    work: Any = without_still_guides(says).start(context)
    return {item.criterion: item for item in work.finish(TIME)}


@pytest.mark.parametrize("mode", [Mode.M_MODE, Mode.PULSED_WAVE, Mode.CONTINUOUS_WAVE, Mode.TISSUE_DOPPLER])
def test_beside_a_strip_nothing_is_said_of_a_still_picture(mode: Mode) -> None:
    told = _told(mode, GUIDE)
    assert told["frozen_frames"].verdict is Verdict.NOT_ASSESSABLE
    assert "stands still while the strip runs" in told["frozen_frames"].reason
    assert told["ecg_present"] == ECG


def test_what_was_not_raised_stays_as_it_was() -> None:
    for verdict in (Verdict.MET, Verdict.NOT_ASSESSABLE):
        own = finding("frozen_frames", 1, verdict, 0.0, confidence=0.9, reason="a still has no beats")
        assert _told(Mode.M_MODE, GUIDE, own)["frozen_frames"] == own


@pytest.mark.parametrize(("mode", "picture"), [(Mode.TWO_D, GUIDE), (Mode.M_MODE, STRIP), (None, GUIDE)])
def test_everywhere_else_it_is_as_the_family_says(mode: Mode | None, picture: object) -> None:
    assert _told(mode, picture) == {"frozen_frames": REPEATS, "ecg_present": ECG}


def test_the_family_of_times_is_one_that_does_not_and_keeps_its_name() -> None:
    (one,) = (family for family in EVERY_FAMILY if family.name == "time")
    assert one.version > 100
