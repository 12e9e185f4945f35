"""What a clip is good for follows from its findings and from nothing else."""

from __future__ import annotations

from dataclasses import replace

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


def test_no_clip_is_called_good_for_doppler_where_nothing_tells_that() -> None:
    assert verdicts((finding("a", 1, Verdict.MET, 0.4),))[Purpose.DOPPLER] is ClipVerdict.NOT_ASSESSABLE


def test_a_miss_lowers_each_purpose_as_its_row_says() -> None:
    found = verdicts((finding("a", 1, Verdict.MISSED, 0.1, side=Side.LOW),))

    assert found[Purpose.LOOK] is ClipVerdict.LIMITED
    assert found[Purpose.MEASURE] is ClipVerdict.NON_DIAGNOSTIC
    assert found[Purpose.DOPPLER] is ClipVerdict.NOT_ASSESSABLE


def test_a_doubtful_miss_lowers_nothing() -> None:
    found = verdicts((finding("a", 1, Verdict.MISSED, 0.1, side=Side.LOW, confidence=0.3),))

    assert {found[Purpose.LOOK], found[Purpose.MEASURE]} == {ClipVerdict.DIAGNOSTIC}


OF_DOPPLER = {
    key: replace(CRITERIA["a"], key=key, limits=((purpose, limit),))
    for purpose, limit, keys in (
        (Purpose.MEASURE, ClipVerdict.LIMITED, "abc"), (Purpose.MEASURE, ClipVerdict.NON_DIAGNOSTIC, "d"),
        (Purpose.DOPPLER, ClipVerdict.LIMITED, "xyz"),
    )
    for key in keys
}  # fmt: skip


def of_doppler(mode: Mode, findings: dict[str, Verdict], confidence: float = 0.75) -> dict[Purpose, ClipVerdict]:
    read = ModeReading(mode=mode, probability=1, reasons=())
    found = tuple(
        finding(key, 1, verdict, 0.4, confidence=0.4 if key.isupper() else confidence)
        for key, verdict in findings.items()
    )
    return dict(judge_clip(read, tuple(replace(f, criterion=f.criterion.lower()) for f in found), OF_DOPPLER, 0.5))


@pytest.mark.parametrize("mode", [Mode.PULSED_WAVE, Mode.CONTINUOUS_WAVE, Mode.TISSUE_DOPPLER])
def test_a_spectrum_is_judged_as_what_it_measures(mode: Mode) -> None:
    met, missed = Verdict.MET, Verdict.MISSED

    def of(**findings: Verdict) -> ClipVerdict:
        found = of_doppler(mode, findings)
        assert found[Purpose.MEASURE] is found[Purpose.DOPPLER]
        assert found[Purpose.LOOK] is ClipVerdict.NOT_ASSESSABLE
        return found[Purpose.DOPPLER]

    assert of(a=met, b=met, c=met) is ClipVerdict.DIAGNOSTIC
    assert of(a=met, b=met) is ClipVerdict.NOT_ASSESSABLE  # too little is known of it
    assert of(a=met, b=met, c=missed) is ClipVerdict.LIMITED
    assert of(a=missed, d=missed) is ClipVerdict.NON_DIAGNOSTIC
    assert of(a=met, b=met, c=met, D=missed) is ClipVerdict.NOT_ASSESSABLE  # upper case: doubtful


def test_colour_is_diagnostic_for_doppler_when_enough_was_surely_met() -> None:
    met = dict.fromkeys("xyz", Verdict.MET)

    assert of_doppler(Mode.COLOUR, met)[Purpose.DOPPLER] is ClipVerdict.DIAGNOSTIC
    assert of_doppler(Mode.COLOUR, met, confidence=0.4)[Purpose.DOPPLER] is ClipVerdict.NOT_ASSESSABLE
    borderline = of_doppler(Mode.COLOUR, met | {"z": Verdict.BORDERLINE})
    assert borderline[Purpose.DOPPLER] is ClipVerdict.NOT_ASSESSABLE
    assert borderline[Purpose.LOOK] is ClipVerdict.DIAGNOSTIC


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
