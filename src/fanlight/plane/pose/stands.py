"""Where the probe stood in the clips of a study, window by window, from kept readings and marks alone."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable, Mapping
from dataclasses import replace
from functools import lru_cache

from fanlight.heart.fit.fit_pose import fit_pose
from fanlight.heart.fit.limits import Limits
from fanlight.heart.fit.pose_values import METHOD, ClipPose, Offset
from fanlight.heart.standard_poses import STANDARD_VIEWS, view_window
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
    Species,
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
    marks: Mapping[str, FileMarks] = NO_MARKS, before: Iterable[WindowStand] = (),
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
    before : iterable of WindowStand
        Told earlier of the same study; what rests on the same landmarks is not fitted again.

    Notes
    -----
    Clips of one window share one heart and are fitted together, at most `limits.together` at once, what a person marked
    and what the network saw apart.
    """
    known = {stand.rests_on: stand for stand in before if stand.clips}
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
            part = tuple(clips[first : first + limits.together])
            known_of = (patient.species, patient.weight_kg, limits.least)
            key = hashlib.sha256(repr((part, *known_of)).encode()).hexdigest()
            stand = known.get(key) or _fitted(window, part, *known_of, key)
            done.append(_weighed(stand, by_key, limits, tuple(left.pop(window, ()))))
    return (*done, *(_nothing(window, tuple(clips)) for window, clips in left.items()))


def _window_of(reading: ClipReading) -> Window | None:
    return view_window(reading.view.view) if reading.view.view in STANDARD_VIEWS else None


def _nothing(window: Window | None, left: tuple[StandLeftOut, ...]) -> WindowStand:
    name = "" if window is None else window.value
    return WindowStand(window=name, clips=(), place=(), left_out=left, has_settled=True, method=METHOD, rests_on="")


@lru_cache(maxsize=32)  # the desk concludes anew after each act, and a fit takes a tenth of a second a clip
def _fitted(
    window: Window, clips: tuple[Gathered, ...], species: Species | None, weight_kg: float | None,
    least: tuple[tuple[str, float], ...], key: str,
) -> WindowStand:  # fmt: skip
    fit = fit_pose([item.seen for item in clips], species=species, weight_kg=weight_kg, limits=Limits(**dict(least)))
    return WindowStand(
        window=window.value, clips=tuple(map(_clip, clips, fit.clips)), place=tuple(map(_offset, fit.place)),
        left_out=(), has_settled=fit.has_settled, method=fit.method, rests_on=key,
    )  # fmt: skip


def _weighed(
    stand: WindowStand, readings: Mapping[str, ClipReading], limits: MovementLimits, left: tuple[StandLeftOut, ...]
) -> WindowStand:
    """Return a stand with why its clips advise nothing, where something stands against it."""
    clips = tuple(replace(clip, silent=_doubt(readings[clip.clip], clip, stand, limits)) for clip in stand.clips)
    return replace(stand, clips=clips, left_out=left)


def _doubt(reading: ClipReading, clip: ClipStand, stand: WindowStand, limits: MovementLimits) -> str:
    """Return why nothing is advised of a clip, "" where nothing stands against it."""
    if any(item.criterion == MIRRORED and item.verdict is Verdict.MISSED for item in reading.findings):
        return "the picture lies the wrong way round: put that right first"
    if not stand.has_settled:
        return "the search for the pose did not settle: mark more landmarks"
    if clip.misfit_ratio >= limits.misfit_from:
        return f"the landmarks fit this view of no heart that is known (misfit {clip.misfit_ratio:.1f}): {_MAY_BE}"
    if far := _too_far(clip, limits):
        return f"the landmarks ask for a {far} farther than any hand goes: {_MAY_BE}"
    return ""


def _too_far(clip: ClipStand, limits: MovementLimits) -> str:
    """Return the movement that is farther off than a hand goes, "" where none is."""
    least = dict(limits.least)
    most = {name.partition("_")[0]: value / least[name] for name, value in limits.farthest}
    far = (one.movement for one in clip.offsets if abs(one.mean) > one.limit * most.get(one.movement, math.inf))
    return next(far, "")


def _clip(item: Gathered, pose: ClipPose) -> ClipStand:
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
        none_probability=pose.none_probability, misfit_ratio=pose.misfit_ratio,
    )  # fmt: skip


def _offset(one: Offset) -> ProbeOffset:
    return ProbeOffset(
        movement=one.movement.value, unit=one.unit, mean=one.amount.mean, low=one.amount.low, high=one.amount.high,
        limit=one.limit, plus_probability=one.plus_probability, minus_probability=one.minus_probability,
    )  # fmt: skip
