"""From the readings of all clips to the draft of the whole study. Pure: no file, no clock."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from fanlight import __version__
from fanlight.coach.record import record_with
from fanlight.coach.strengths import find_strengths
from fanlight.critique.coverage import StoredClip, hold_against_plan
from fanlight.critique.doppler.beats_on_strip import beats_on_strip
from fanlight.critique.doppler.colour_split import KEY as SPLIT
from fanlight.critique.doppler.colour_split import with_split
from fanlight.critique.ladder_rules import Said
from fanlight.critique.picture_masks import read_mask_tables, with_masks
from fanlight.critique.time import study_ecg_finding
from fanlight.measure.doppler.stroke import stroke_volumes
from fanlight.measure.given import weigh_given
from fanlight.measure.marked import measure_marks
from fanlight.measure.picture import given_by_hand, given_by_network, measure_picture
from fanlight.plane.planes import read_plane_rules, with_planes
from fanlight.reference.criteria import read_criteria
from fanlight.reference.intervals import weigh
from fanlight.reference.letter import read_letter_limits
from fanlight.reference.plans import choose_plan
from fanlight.reference.recognition import read_recognition_limits
from fanlight.reference.validity import TakenFrom, read_standings
from fanlight.reference.views import read_views
from fanlight.review.advise import advise
from fanlight.review.follow_up import followed
from fanlight.study import (
    ENGINE,
    MODE_WORDS,
    ClipReading,
    Criterion,
    FileMarks,
    Finding,
    FollowUp,
    House,
    Measurement,
    Mode,
    Refusal,
    Study,
    StudyReview,
    WindowStand,
)
from fanlight.validity.by_length import weigh_by_length
from fanlight.validity.clip_verdict import judge_clip
from fanlight.validity.meaning.explained import explain
from fanlight.validity.measured import Rules, is_bound, weigh_measured
from fanlight.validity.ranked import rank_clips

_PICTURES = (Mode.TWO_D, Mode.COLOUR)  # shapes on them lie in the plane of the heart


def conclude(
    study: Study,
    readings: tuple[ClipReading, ...],
    refused: tuple[Refusal, ...],
    house: House,
    plan_key: str = "",
    study_findings: tuple[Finding, ...] | None = None,
    marks: Mapping[str, FileMarks] | None = None,
    undecided: Mapping[str, tuple[Finding, ...]] | None = None,
    unjudged: frozenset[str] = frozenset(),
    stood: tuple[WindowStand, ...] = (),
    posed: Mapping[str, FileMarks] | None = None,
) -> StudyReview:
    """Return the engine's draft of a study.

    Parameters
    ----------
    study : Study
        As assembled by intake.
    readings : tuple of ClipReading
        One for each clip that could be read, in study order; their verdicts are set here.
    refused : tuple of Refusal
        Files and clips that could not be used.
    house : House
        Tables of the teaching group.
    plan_key : str
        Plan that the user chose; "" lets question, species and training level choose.
    study_findings : tuple of Finding, optional
        On the study as a whole, as a mentor decided them; by default they are drawn from the clips, and so are the
        findings on the planes, which hold the clips of a study against each other.
    marks : mapping of str to FileMarks, optional
        What a person drew, by the key of the clip: named marks are measured, and a valve that is marked tells how it
        parts the colour box.
    undecided : mapping of str to tuple of Finding, optional
        Findings of the engine on which no mentor decided, by the key of the clip, where `readings` hold decided ones
        only: numbers are weighed by them too, and of a mirrored picture no movement is told.
    unjudged : frozenset of str
        Keys of clips that the mentor judges first: no movement is told of them.
    stood : tuple of WindowStand
        Of the draft, where one is concluded anew: what rests on the same landmarks is not fitted again.
    posed : mapping of str to FileMarks, optional
        What tells where the probe stood, where others than `marks` do: those of a person that were measured before.
    """
    criteria = read_criteria(house)
    limits = read_letter_limits(house)
    drawn = marks or {}
    masks = read_mask_tables(house)
    weighed = tuple(with_masks(reading, masks) for reading in readings)
    if study_findings is None:
        weighed = with_planes(weighed, read_plane_rules(house), drawn)
    told = (
        with_split(item, drawn[item.clip.key].drawn, criteria[SPLIT]) if item.clip.key in drawn else item
        for item in weighed
    )
    judged = tuple(
        replace(item, verdicts=judge_clip(item.mode, item.findings, criteria, limits.sure_from)) for item in told
    )
    clip_findings = [finding for item in judged for finding in item.findings]
    if study_findings is None:
        study_findings = (study_ecg_finding(clip_findings, criteria["ecg_present"]),) if judged else ()
    plan, because = choose_plan(house, study.patient, study.request, plan_key)
    stored = tuple(
        StoredClip(
            key=item.clip.key,
            view=item.view,
            mode=item.mode.mode,
            verdicts=item.verdicts,
            acquired_at=item.clip.acquired_at,
            number=item.clip.number,
            findings=tuple(each for each in item.findings if each.confidence >= limits.sure_from),
            hints=tuple(each for each in item.findings if each.confidence < limits.sure_from),
            n_beats=beats_on_strip(item.layout, item.findings),
        )
        for item in judged
    )
    general = without_study_level(clip_findings, criteria)
    tells = drawn if posed is None else posed
    advice = advise(study, judged, general, tuple(study_findings), house, tells, unjudged, stood, undecided or {})
    rules = Rules(standings=read_standings(house), criteria=criteria, sure_from=limits.sure_from)
    coverage = hold_against_plan(plan, because, read_views(house), house, stored, _said(study))
    measurements = (
        *weigh_given(study, house),
        *_marked(judged, drawn),
        *_measured(study, judged, house, rules, undecided or {}),
        *_pictured(study, judged, drawn, house, rules, undecided or {}),
    )
    measurements += stroke_volumes(_pulsed(judged, measurements), measurements, house)
    measurements = rank_clips(measurements, {clip.name: clip.number for clip in study.clips})
    return StudyReview(
        study=study,
        readings=judged,
        refused=refused,
        study_findings=study_findings,
        coverage=coverage,
        measurements=measurements,
        priorities=advice.priorities,
        strengths=find_strengths(
            general + list(study_findings),
            criteria,
            limits.strength_share,
            limits.sure_from,
        )[: limits.strengths_max],
        asked_for=study.request.missing,
        engine_version=__version__,
        house=house.fingerprint(),
        house_own_rows=house.own_rows,
        meaning=explain(study, house, measurements),
        causes=advice.causes,
        follow_up=_followed(study, judged, study_findings, house, limits.sure_from),
        corrections=advice.corrections,
        stands=advice.stands,
    )


def _followed(
    study: Study, readings: tuple[ClipReading, ...], study_findings: tuple[Finding, ...], house: House, sure_from: float
) -> FollowUp:
    """Return what became of the advice of earlier studies of the same trainee."""
    if not study.request.records:
        return FollowUp()
    now = record_with(study, (), readings, study_findings, sure_from)
    return followed(study.request.records, now, readings, house)


def _said(study: Study) -> Said:
    """Return what report, sheet and reading say that clips must bear out."""
    given = (*study.machine_measurements, *study.request.trainee_measurements)
    return Said(
        reported=tuple((item.quantity, f"{item.label} {item.value:g} {item.unit}".strip()) for item in given),
        reading=study.request.trainee_reading,
    )


def _marked(readings: Iterable[ClipReading], marks: Mapping[str, FileMarks]) -> list[Measurement]:
    """Return what named marks measure, clip by clip."""
    return [
        measured
        for item in readings
        if (drawn := marks.get(item.clip.key)) is not None
        for measured in measure_marks(drawn, item.layout, item.clip, item.mode.mode)
    ]


def _measured(
    study: Study,
    readings: Iterable[ClipReading],
    house: House,
    rules: Rules,
    undecided: Mapping[str, tuple[Finding, ...]],
) -> list[Measurement]:
    """Return what was read off the strips: each number that holds in its intervals, else the reason in its place."""
    found: list[Measurement] = []
    for reading in readings:
        named = (replace(item, clip=reading.clip.name) for item in _as_placed(reading))
        weighed = weigh_measured(named, reading.findings, rules, undecided.get(reading.clip.key, ()))
        mode = MODE_WORDS[reading.mode.mode] if reading.mode.mode else ""
        found += [_in_intervals(item, mode, study, house) for item in weighed]
    return found


def _in_intervals(item: Measurement, mode: str, study: Study, house: House) -> Measurement:
    """Return a number with what the reference rows say of it; a bound lies in no interval."""
    if item.value is None or not item.name or is_bound(item):
        return item
    how = f"{item.method}; {mode}" if mode else item.method
    said = weigh(house, item.name, item.value, item.unit, how, study.patient, study.request)
    return replace(item, readings=said)


def _pictured(
    study: Study,
    readings: Iterable[ClipReading],
    marks: Mapping[str, FileMarks],
    house: House,
    rules: Rules,
    undecided: Mapping[str, tuple[Finding, ...]],
) -> list[Measurement]:
    """Return what landmarks, lines and traces on 2-D pictures measure: a person's first, then the network's apart."""
    found: list[Measurement] = []
    landmark_from = read_recognition_limits(house).landmark_from
    for reading in readings:
        if reading.mode.mode not in _PICTURES:
            continue
        drawn = marks.get(reading.clip.key)
        given = () if drawn is None else given_by_hand(drawn, reading.layout, reading.clip, house)
        seen = given_by_network(reading.picture, reading.layout, drawn, landmark_from)
        for placed, grid in (*given, *(() if seen is None else (seen,))):
            measured = measure_picture(placed, grid, reading.view, reading.time, study.patient, house)
            named = (replace(item, clip=reading.clip.name) for item in measured)
            left = undecided.get(reading.clip.key, ())
            found += weigh_measured(named, reading.findings, rules, left, taken_from=TakenFrom.PICTURE)
    # The method says by itself that they were taken in 2-D or by discs.
    return [_in_intervals(item, "", study, house) for item in weigh_by_length(found)]


def _pulsed(readings: Iterable[ClipReading], measured: Iterable[Measurement]) -> list[Measurement]:
    """Return what the engine measured on pulsed-wave clips."""
    clips = {reading.clip.name for reading in readings if reading.mode.mode is Mode.PULSED_WAVE}
    return [item for item in measured if item.given_by == ENGINE and item.clip in clips]


def _as_placed(reading: ClipReading) -> tuple[Measurement, ...]:
    """Return what was measured, unless the clip was placed otherwise since: it was measured as another flow then."""
    if not reading.measured or reading.measured_as == (reading.view.view, reading.view.valve):
        return reading.measured
    return (
        Measurement(
            name="",
            label="Strip",
            value=None,
            unit="",
            frames=reading.measured[0].frames,
            given_by=ENGINE,
            reason="not measured: the clip was placed after it was read; it is read again and measured then",
        ),
    )


def without_study_level(findings: Iterable[Finding], criteria: Mapping[str, Criterion]) -> list[Finding]:
    """Return findings on clips without those that are said once for the whole study."""
    return [item for item in findings if not criteria[item.criterion].study_level]
