"""One displaced clip, what is named of it, the same clip after that was carried out; the plane's criteria of both.

No picture is formed: the probe moves in the geometry of the simulator, and the criteria are asked as in
`measure/plane_criteria.py`, with the errors of a network or of a hand, drawn anew for each clip.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

import numpy as np

from fanlight.coach.movements.named import Named, named_movements
from fanlight.heart.fit.fit_pose import fit_pose
from fanlight.heart.fit.limits import Limits
from fanlight.heart.fit.seen import ClipSeen
from fanlight.heart.movements import Movement, moved
from fanlight.heart.pose import Pose
from fanlight.heart.pose_difference import difference
from fanlight.heart.standard_poses import standard_pose
from fanlight.plane.planes import MIRRORED, read_plane_rules, with_planes
from fanlight.plane.pose.gather import Gathered
from fanlight.plane.pose.stands import _clip, _doubt, _offset
from fanlight.reference.load import load_house
from fanlight.reference.movements import read_movements
from fanlight.simulate.clip.clip_setting import ClipSetting
from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.faults.faults import FAULTS
from fanlight.simulate.visit.hand_level import HandLevel
from fanlight.study import Finding, LandmarksBy, ProbeOffset, Verdict, WindowStand
from measure._criterion_clips import Subject, draw_subject, good_setting
from measure._plane_clips import Plane, _plane, steady_planes
from measure._plane_observed import as_network, as_nobody, as_person
from measure._pose_cases import Quality, added, pose_after, scatter_of, scattered, seen_at
from measure._pose_subject import GRADES, KINDS, NOISES, RIGHT, Amounts
from measure.plane_criteria import BESIDE, BY_PERSON

Record = dict[str, Any]
Verdicts = dict[str, str]  # by criterion; only what could be judged
VIEWS = (
    "right_parasternal_long_axis_four_chamber", "right_parasternal_long_axis_outflow",
    "right_parasternal_short_axis_mitral_valve", "right_parasternal_short_axis_aorta", "left_apical_four_chamber",
)  # fmt: skip
FAULTS_ASKED = tuple(fault for pair in KINDS.values() for fault in pair)
PLACES = (*KINDS[Movement.SLIDE], *KINDS[Movement.SPACE])
KIND_OF = {fault: kind for kind, pair in KINDS.items() for fault in pair}
SIZE_ERROR = 0.15  # by which the animal's size is known, each way: a cube root of its weight
NOT_OF_HAND = (MIRRORED, "window_of_label")  # no movement puts these right
HOUSE = load_house()
PLANES, TABLES = read_plane_rules(HOUSE), read_movements(HOUSE)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Case:
    """One subject, with what a person would hold its clips against."""

    subject: Subject
    steady: tuple[Plane, ...]
    quality: Quality
    weight_kg: float  # as it is known
    rng: np.random.Generator

    def asked(self, view: str, pose: Pose) -> Verdicts:
        """Return what the criteria of the plane say of a clip of this pose."""
        setting = replace(_setting(self.subject, view), pose=pose)
        plane = _plane(self.subject, setting, "", 0)
        seen = with_planes((as_network(plane, 1, self.rng),), PLANES)[0].findings
        beside = [plane, *(each for each in self.steady if each.view != view)]
        marks = {f"clip{number}": as_person(each, self.rng) for number, each in enumerate(beside, start=1)}
        readings = tuple(as_nobody(each, number) for number, each in enumerate(beside, start=1))
        marked = with_planes(readings, PLANES, marks)[0].findings
        return _judged([item for item in seen if item.criterion not in BY_PERSON]) | _judged(
            [item for item in marked if item.criterion in BY_PERSON]
        )

    def named(self, clips: Sequence[ClipSeen]) -> dict[int, list[Named]]:
        """Return what is named of the clips of one window, by their place among these: as in a review, from marks."""
        limits = TABLES.limits
        fit = fit_pose(
            clips, species=self.subject.animal.species, weight_kg=self.weight_kg, limits=Limits(**dict(limits.least))
        )
        given = [
            _clip(Gathered(clip=str(number), seen=clip, given_by=LandmarksBy.PERSON), pose)
            for number, (clip, pose) in enumerate(zip(clips, fit.clips, strict=True))
        ]
        stand = WindowStand(
            window=fit.window.value, clips=tuple(given), place=tuple(map(_offset, fit.place)), left_out=(),
            has_settled=fit.has_settled, method=fit.method, rests_on="",
        )  # fmt: skip
        reading = as_nobody(self.steady[0], 1)  # the right way round
        heard = tuple(replace(clip, silent=_doubt(reading, clip, stand, limits)) for clip in given)
        found: dict[int, list[Named]] = defaultdict(list)
        for item in named_movements([replace(stand, clips=heard)], TABLES):
            found[int(item.clip)].append(item)
        return found


@lru_cache(maxsize=16)  # of one subject: every fault meets every view
def _setting(subject: Subject, view: str) -> ClipSetting:
    return good_setting(subject, view)


def _judged(findings: Sequence[Finding]) -> Verdicts:
    return {
        item.criterion: item.verdict.value
        for item in findings
        if item.verdict is not Verdict.NOT_ASSESSABLE and item.criterion not in NOT_OF_HAND
    }


def measure_subject(job: tuple[int, Ring]) -> Record:
    """Return what became of each fault of one animal: each in one clip, one of the place in three views as well."""
    seed, ring = job
    subject = draw_subject(seed, ring)
    rng = np.random.default_rng([seed, 43])
    case = _Case(
        subject=subject, steady=tuple(steady_planes(subject, BESIDE)),
        quality=Quality(noise_fraction=float(rng.uniform(*NOISES))),
        weight_kg=subject.animal.weight_kg * float(1 + rng.uniform(-SIZE_ERROR, SIZE_ERROR)) ** 3, rng=rng,
    )  # fmt: skip
    found = [
        clip
        for number, fault in enumerate(FAULTS_ASKED)
        for clip in _looped(case, fault, (VIEWS[(seed + number) % len(VIEWS)],))
    ]
    kept = _looped(case, PLACES[(seed // len(VIEWS)) % len(PLACES)], RIGHT)
    return {"seed": seed, "heart": subject.animal.heart.value, "one": found, "three": kept}


def _looped(case: _Case, fault: str, views: Sequence[str]) -> list[Record]:
    """Return the clips of one fault before and after what is named of them was carried out."""
    animal = case.subject.animal
    hand = scatter_of(case.subject.ring, HandLevel.IMPROVING, case.subject.seed)
    wrong = _amounts(case, fault)
    clips: list[tuple[str, Pose, Pose, ClipSeen]] = []
    for view in views:
        scatter = scattered(hand, animal.thorax.scale_ratio, case.rng)
        try:
            without = pose_after(animal, view, scatter)
            pose = pose_after(animal, view, added(wrong, scatter))
            clips.append((view, pose, without, seen_at(animal, view, pose, case.rng, case.quality)))
        except ValueError:  # no probe can stand so, or fewer than three landmarks are seen
            continue
    if not clips:
        return []
    named = case.named([seen for *_, seen in clips])
    return [
        _clip_record(case, fault, view, (pose, without), named.get(number, []))
        for number, (view, pose, without, _) in enumerate(clips)
    ]


def _amounts(case: _Case, fault: str) -> Amounts:
    known = FAULTS[fault]
    amount = float(known.steps[int(case.rng.choice(GRADES)) - 1])
    scale = case.subject.animal.thorax.scale_ratio if known.grows_with_body else 1.0
    return {KIND_OF[fault]: amount * scale}


def _clip_record(case: _Case, fault: str, view: str, poses: tuple[Pose, Pose], named: Sequence[Named]) -> Record:
    pose, without = poses
    before = case.asked(view, pose)
    record: Record = {
        "fault": fault, "view": view, "before": before, "named": [[*item.move] for item in named],
        "either": [[*item.other] for item in named if item.other is not None],
    }  # fmt: skip
    if not named:
        return record
    try:
        there, after = _tried(case, view, pose, before, named)
    except ValueError:  # a slide that would leave this side of the chest: the hand stops, nothing is mended
        return record | {"after": before, "undone": case.asked(view, without), "left": 1.0}
    animal = case.subject.animal
    standard = standard_pose(animal, view)
    left, was = (_off(case, standard, each, KIND_OF[fault]) for each in (there, pose))
    return record | {"after": after, "undone": case.asked(view, without), "left": left / was}


def _tried(case: _Case, view: str, pose: Pose, before: Verdicts, named: Sequence[Named]) -> tuple[Pose, Verdicts]:
    """Return the pose and its verdicts after what is named; of an either-or the other where the first mends nothing."""
    there = _carried_out(case, pose, [(item.move, item.offset) for item in named])
    after = case.asked(view, there)
    others = [(item.other, item.other_offset) for item in named if item.other is not None and item.other_offset]
    if others and _missed(after) >= _missed(before):
        plain = [(item.move, item.offset) for item in named if item.other is None]
        there = _carried_out(case, pose, [*plain, *others])
        after = case.asked(view, there)
    return there, after


def _carried_out(case: _Case, pose: Pose, moves: Sequence[tuple[tuple[str, int], ProbeOffset]]) -> Pose:
    """Return the pose after movements in the order of hands, each by the middle of the range that is told."""
    animal, order = case.subject.animal, list(TABLES.rows)
    for move, offset in sorted(moves, key=lambda each: order.index(each[0])):
        pose = moved(animal, pose, Movement(move[0]), -move[1] * middle(offset))
    return pose


def middle(offset: ProbeOffset) -> float:
    """Return the middle of the range of a movement as a letter tells it (`coach/movements/sizes.py`)."""
    low, high = sorted((abs(offset.low), abs(offset.high)))
    low = max(low if offset.low * offset.high > 0 else 0.0, offset.limit)
    return 0.5 * (low + max(low, high))


def _missed(verdicts: Verdicts) -> int:
    return sum(verdict == Verdict.MISSED.value for verdict in verdicts.values())


def _off(case: _Case, standard: Pose, pose: Pose, kind: Movement) -> float:
    """Return by how much a pose is off in one kind of movement."""
    steps = difference(case.subject.animal, standard, pose)
    return next(abs(step.amount) for step in steps if step.movement is kind)
