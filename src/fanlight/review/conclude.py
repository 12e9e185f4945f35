"""From the readings of all clips to the draft of the whole study. Pure: no file, no clock."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from fanlight import __version__
from fanlight.coach.causes.where_cut import Cuts
from fanlight.coach.held import held_coverage
from fanlight.coach.record import record_with
from fanlight.coach.strengths import find_strengths
from fanlight.critique.coverage import StoredClip, hold_against_plan
from fanlight.critique.doppler.beats_on_strip import beats_on_strip
from fanlight.critique.doppler.colour_split import KEY as SPLIT
from fanlight.critique.ladder_rules import Said
from fanlight.critique.picture_masks import read_mask_tables, with_masks
from fanlight.critique.time import study_ecg_finding
from fanlight.measure.jets import is_jet
from fanlight.measure.marked import GIVEN_BY
from fanlight.plane.kept import set_by_hand
from fanlight.plane.planes import read_plane_rules, with_planes
from fanlight.reference.criteria import read_criteria
from fanlight.reference.handling import read_handling
from fanlight.reference.letter import read_letter_limits
from fanlight.reference.plans import choose_plan
from fanlight.reference.units import say_value
from fanlight.reference.validity import read_standings
from fanlight.reference.views import read_views
from fanlight.review.advise import advise
from fanlight.review.box_split import SplitRules, with_box_split
from fanlight.review.follow_up import followed
from fanlight.review.hand_scale import by_hand_scale
from fanlight.review.numbers import Weighed, all_numbers
from fanlight.study import (
    ClipReading,
    Criterion,
    FileMarks,
    Finding,
    FollowUp,
    House,
    Measurement,
    Refusal,
    Study,
    StudyReview,
    WindowStand,
)
from fanlight.validity.clip_verdict import judge_clip, off_its_plane
from fanlight.validity.meaning.explained import explain
from fanlight.validity.meaning.inputs import taken_on
from fanlight.validity.measured import Rules
from fanlight.validity.unconfirmed import find_unconfirmed


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
    cuts: Mapping[str, Cuts] | None = None,
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
        parts the colour box; else the engine's landmarks do, doubtfully. What was kept as the engine proposed it is
        measured, and tells no more than the network.
    undecided : mapping of str to tuple of Finding, optional
        Findings of the engine on which no mentor decided, by the key of the clip, where `readings` hold decided ones
        only: numbers are weighed by them too, and of a mirrored picture no movement is told.
    unjudged : frozenset of str
        Keys of clips that the mentor judges first: no movement is told of them.
    stood : tuple of WindowStand
        Of the draft, where one is concluded anew: what rests on the same landmarks is not fitted again.
    posed : mapping of str to FileMarks, optional
        What tells where the probe stood, where others than `marks` do: those of a person that were measured before.
    cuts : mapping of str to mapping of CutPlace to Verdict, optional
        Where chambers are cut off (`cuts_of`), where `readings` are without what the network saw.
    """
    criteria = read_criteria(house)
    limits = read_letter_limits(house)
    drawn = marks or {}
    by_hand = set_by_hand(drawn)
    masks = house.kept("masks", read_mask_tables)
    weighed = tuple(with_masks(reading, masks) for reading in readings)
    if study_findings is None:
        told_of = with_planes(
            tuple(by_hand_scale(weighed, by_hand)), house.kept("plane rules", read_plane_rules), by_hand
        )
        weighed = tuple(replace(old, findings=new.findings) for old, new in zip(weighed, told_of, strict=True))
    split, unmarked = SplitRules.of(house, criteria[SPLIT]), FileMarks(name="")
    told = (with_box_split(item, by_hand.get(item.clip.key, unmarked).drawn, split) for item in weighed)
    judged = tuple(
        replace(item, verdicts=judge_clip(item.mode, item.findings, criteria, limits.sure_from)) for item in told
    )
    clip_findings = [finding for item in judged for finding in item.findings]
    if study_findings is None:
        study_findings = (study_ecg_finding(clip_findings, criteria["ecg_present"]),) if judged else ()
    general = without_study_level(clip_findings, criteria)
    tells = drawn if posed is None else posed
    advice = advise(study, judged, general, tuple(study_findings), house, tells, unjudged, stood, undecided or {}, cuts)
    judged = tuple(
        replace(item, verdicts=off_its_plane(item.verdicts)) if item.clip.key in advice.off_plane else item
        for item in judged
    )
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
    rules = Rules(standings=read_standings(house), criteria=criteria, sure_from=limits.sure_from)
    measurements = all_numbers(Weighed(study=study, house=house, rules=rules, undecided=undecided or {}), judged, drawn)
    said = _said(study, measurements)
    coverage = held_coverage(
        hold_against_plan(plan, because, read_views(house), house, stored, said), study.request.breathing,
        read_handling(house),
    )  # fmt: skip
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
        meaning=explain(study, house, measurements, taken_on(judged)),
        causes=advice.causes,
        follow_up=_followed(study, judged, study_findings, house, limits.sure_from),
        corrections=advice.corrections,
        stands=advice.stands,
        unconfirmed=find_unconfirmed(study, judged, measurements, house),
    )


def _followed(
    study: Study, readings: tuple[ClipReading, ...], study_findings: tuple[Finding, ...], house: House, sure_from: float
) -> FollowUp:
    """Return what became of the advice of earlier studies of the same trainee."""
    if not study.request.records:
        return FollowUp()
    now = record_with(study, (), readings, study_findings, sure_from)
    return followed(study.request.records, now, readings, house)


def _said(study: Study, measurements: Iterable[Measurement]) -> Said:
    """Return what report, sheet and reading say that clips must bear out, and the jets that a person marked."""
    given = (*study.machine_measurements, *study.request.trainee_measurements)
    reported = [(item.quantity, f"{item.label} {item.value:g} {item.unit}".strip()) for item in given]
    reported += [
        (item.name, f"{item.label} {say_value(item.value, item.unit)} ({item.given_by})")
        for item in measurements
        if item.given_by == GIVEN_BY and item.value is not None and is_jet(item.name, item.value)
    ]
    return Said(reported=tuple(reported), reading=study.request.trainee_reading)


def without_study_level(findings: Iterable[Finding], criteria: Mapping[str, Criterion]) -> list[Finding]:
    """Return findings on clips without those that are said once for the whole study."""
    return [item for item in findings if not criteria[item.criterion].study_level]
