"""Where the probe stood in the clips of a study, window by window, from kept readings and marks alone."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache

from fanlight.heart.fit.fit_pose import fit_pose
from fanlight.heart.fit.limits import Limits
from fanlight.heart.fit.pose_values import METHOD, ClipPose, Offset, WindowPose
from fanlight.heart.fit.seen import ClipSeen
from fanlight.heart.movements import Movement
from fanlight.heart.standard_poses import view_window
from fanlight.heart.windows import Window
from fanlight.plane.planes import MIRRORED, NO_MARKS
from fanlight.plane.pose.gather import Gathered, gather
from fanlight.reference.movements import MovementLimits
from fanlight.reference.plane import PlaneSettings
from fanlight.study import (
    ClipReading,
    ClipStand,
    EitherMovement,
    FileMarks,
    LandmarksBy,
    Patient,
    ProbeOffset,
    StandLeftOut,
    Verdict,
    WindowStand,
)

_MAY_BE = (
    "another view or window, a mirrored picture, a slipped mark, or an unusual heart; it may be the animal and not the "
    "hand, and no movement is advised"
)


def with_stands(
    readings: Iterable[ClipReading], patient: Patient, settings: PlaneSettings, limits: MovementLimits,
    marks: Mapping[str, FileMarks] = NO_MARKS,
) -> tuple[WindowStand, ...]:  # fmt: skip
    """Return where the probe stood, for each window of which landmarks are known.

    Parameters
    ----------
    readings : iterable of ClipReading
        Of the whole study, with the findings on their planes.
    patient : Patient
        Species and weight narrow the heart's size.
    settings : PlaneSettings
        Of the House.
    limits : MovementLimits
        Of the House.
    marks : mapping of str to FileMarks
        What a person drew, by the key of the clip.

    Notes
    -----
    Clips of one window share one heart and are fitted together, at most `limits.together` at once, a person's marks
    and the network's landmarks apart.
    """
    by_key = {item.clip.key: item for item in readings}
    given: dict[tuple[Window, LandmarksBy], list[Gathered]] = {}
    left: dict[Window | None, list[StandLeftOut]] = {}
    for key, reading in by_key.items():
        got = gather(reading, marks.get(key), settings, limits)
        if isinstance(got, Gathered):
            given.setdefault((view_window(got.seen.view), got.given_by), []).append(got)
        elif got is not None:
            left.setdefault(_window_of(reading), []).append(got)
    done: list[WindowStand] = []
    for (window, _), clips in given.items():
        for first in range(0, len(clips), limits.together):
            part = clips[first : first + limits.together]
            done.append(_stand(window, part, by_key, patient, limits, tuple(left.pop(window, ()))))
    return (*done, *(_nothing(window, tuple(clips)) for window, clips in left.items()))


def _window_of(reading: ClipReading) -> Window | None:
    try:
        return view_window(reading.view.view)
    except ValueError:
        return None


def _nothing(window: Window | None, left: tuple[StandLeftOut, ...]) -> WindowStand:
    name = "" if window is None else window.value
    return WindowStand(window=name, clips=(), place=(), left_out=left, has_settled=True, method=METHOD)


def _stand(
    window: Window, clips: Sequence[Gathered], readings: Mapping[str, ClipReading], patient: Patient,
    limits: MovementLimits, left: tuple[StandLeftOut, ...],
) -> WindowStand:  # fmt: skip
    fit = _fitted(tuple(item.seen for item in clips), patient.species, patient.weight_kg, limits.least)
    return WindowStand(
        window=window.value,
        clips=tuple(
            _clip(item, pose, _doubt(readings[item.clip], pose, fit, limits))
            for item, pose in zip(clips, fit.clips, strict=True)
        ),
        place=tuple(map(_offset, fit.place)),
        left_out=left, has_settled=fit.has_settled, method=fit.method,
    )  # fmt: skip


@lru_cache(maxsize=64)  # the desk concludes anew after each act of the mentor; the marks are mostly the same
def _fitted(
    clips: tuple[ClipSeen, ...], species: object, weight_kg: float | None, least: tuple[tuple[str, float], ...]
) -> WindowPose:
    return fit_pose(clips, species=species, weight_kg=weight_kg, limits=Limits(**dict(least)))  # type: ignore[arg-type]


def _doubt(reading: ClipReading, pose: ClipPose, fit: WindowPose, limits: MovementLimits) -> str:
    """Return why nothing is advised of a clip, "" where nothing stands against it."""
    if any(item.criterion == MIRRORED and item.verdict is Verdict.MISSED for item in reading.findings):
        return "the picture lies the wrong way round: put that right first"
    if not fit.has_settled:
        return "the search for the pose did not settle: mark more landmarks"
    if pose.misfit_ratio >= limits.misfit_from:
        return f"the landmarks fit this view of no heart that is known (misfit {pose.misfit_ratio:.1f}): {_MAY_BE}"
    if far := _too_far(pose, limits):
        return f"the landmarks ask for a {far} farther than any hand goes: {_MAY_BE}"
    return ""


def _too_far(pose: ClipPose, limits: MovementLimits) -> str:
    """Return the movement that is farther off than a hand goes, "" where none is."""
    least = dict(limits.least)
    for name, most in limits.farthest:
        movement = name.partition("_")[0]
        one = pose.offset(Movement(movement))
        if abs(one.amount.mean) > one.limit * most / least[name]:
            return movement
    return ""


def _clip(item: Gathered, pose: ClipPose, silent: str) -> ClipStand:
    return ClipStand(
        clip=item.clip, view=pose.view, given_by=item.given_by, n_landmarks=pose.n_landmarks,
        offsets=tuple(map(_offset, pose.offsets)),
        pairs=tuple(
            EitherMovement(
                first=pair.first.value, first_sense=pair.first_sense, first_probability=pair.first_probability,
                second=pair.second.value, second_sense=pair.second_sense,
                second_probability=pair.second_probability, probability=pair.probability,
            )
            for pair in pose.pairs
        ),
        none_probability=pose.none_probability, misfit_ratio=pose.misfit_ratio, silent=silent,
    )  # fmt: skip


def _offset(one: Offset) -> ProbeOffset:
    return ProbeOffset(
        movement=one.movement.value, unit=one.unit, mean=one.amount.mean, low=one.amount.low, high=one.amount.high,
        limit=one.limit, plus_probability=one.plus_probability, minus_probability=one.minus_probability,
    )  # fmt: skip
