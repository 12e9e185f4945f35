"""What a clip is good for follows from its findings and from nothing else."""

from __future__ import annotations

import pytest

from fanlight.study import Band, Basis, ClipVerdict, Criterion, Finding, Mode, ModeReading, Purpose, Side, Verdict
from fanlight.validity.clip_verdict import judge_clip
from tests.report.sample import finding

LIMITS = ((Purpose.LOOK, ClipVerdict.LIMITED), (Purpose.MEASURE, ClipVerdict.NON_DIAGNOSTIC))
CRITERIA = {
    "a": Criterion(
        key="a", family="sample", title="a", unit="1", band=Band(met_low=0.25), basis=Basis.HOUSE, source="",
        right="", low=None, high=None, weight=1, limits=LIMITS,
    )
}  # fmt: skip
TWO_D = ModeReading(mode=Mode.TWO_D, probability=1, reasons=())


def verdicts(findings: tuple[Finding, ...], mode: ModeReading = TWO_D) -> dict[Purpose, ClipVerdict]:
    return dict(judge_clip(mode, findings, CRITERIA, 0.5))


def test_a_clip_is_diagnostic_until_a_miss_lowers_it() -> None:
    found = verdicts((finding("a", 1, Verdict.MET, 0.4),))

    assert {found[Purpose.LOOK], found[Purpose.MEASURE]} == {ClipVerdict.DIAGNOSTIC}


def test_no_clip_is_called_good_for_doppler_while_nothing_measures_that() -> None:
    assert verdicts((finding("a", 1, Verdict.MET, 0.4),))[Purpose.DOPPLER] is ClipVerdict.NOT_ASSESSABLE


def test_a_miss_lowers_each_purpose_as_its_row_says() -> None:
    found = verdicts((finding("a", 1, Verdict.MISSED, 0.1, side=Side.LOW),))

    assert found[Purpose.LOOK] is ClipVerdict.LIMITED
    assert found[Purpose.MEASURE] is ClipVerdict.NON_DIAGNOSTIC
    assert found[Purpose.DOPPLER] is ClipVerdict.NOT_ASSESSABLE


def test_a_doubtful_miss_lowers_nothing() -> None:
    found = verdicts((finding("a", 1, Verdict.MISSED, 0.1, side=Side.LOW, confidence=0.3),))

    assert {found[Purpose.LOOK], found[Purpose.MEASURE]} == {ClipVerdict.DIAGNOSTIC}


@pytest.mark.parametrize("mode", [None, Mode.PULSED_WAVE, Mode.NOT_ECHO])
def test_what_has_no_criteria_yet_is_not_assessable(mode: Mode | None) -> None:
    found = verdicts((finding("a", 1, Verdict.MET, 0.4),), ModeReading(mode=mode, probability=0.9, reasons=()))

    assert set(found.values()) == {ClipVerdict.NOT_ASSESSABLE}


def test_nothing_judged_is_not_praise() -> None:
    unknown = finding("a", 1, Verdict.NOT_ASSESSABLE, None, reason="a still has no beats")

    assert set(verdicts((unknown,)).values()) == {ClipVerdict.NOT_ASSESSABLE}


def test_a_probe_in_the_air_is_good_for_nothing() -> None:
    found = verdicts((), ModeReading(mode=Mode.NO_CONTACT, probability=0.99, reasons=()))

    assert set(found.values()) == {ClipVerdict.NON_DIAGNOSTIC}
