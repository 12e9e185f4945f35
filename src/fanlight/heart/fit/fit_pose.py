"""Fit heart and probe to the landmarks of one window, and say which movements of the hand led away from its planes."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.fit.family import Family, load_family
from fanlight.heart.fit.forward import ORDER, probe_at, units_mm
from fanlight.heart.fit.limits import Limits
from fanlight.heart.fit.offsets import estimate, offset_of
from fanlight.heart.fit.pairs import either_or
from fanlight.heart.fit.place import shared_place
from fanlight.heart.fit.pose_values import ClipPose, FittedHeart, WindowPose
from fanlight.heart.fit.posterior import SEED, Draws, draw_movements
from fanlight.heart.fit.problem import Problem
from fanlight.heart.fit.seen import ClipSeen
from fanlight.heart.fit.solve import End, search, starts
from fanlight.heart.standard_poses import view_window
from fanlight.study import Species

Floats = NDArray[np.float64]
N_HEARTS = 400  # draws of the heart and its axis: their intervals need no more


def fit_pose(
    clips: Sequence[ClipSeen],
    *,
    species: Species | None = None,
    weight_kg: float | None = None,
    limits: Limits | None = None,
    family: Family | None = None,
) -> WindowPose:
    """Return where the probe stood in clips of one window, as movements away from the standard plane of each view.

    Parameters
    ----------
    clips : sequence of ClipSeen
        Landmarks at end-diastole, end-systole or both. Clips of one window share one heart and are fitted together.
    species, weight_kg : optional
        Narrow the size of the heart when both are known.
    limits : Limits, optional
        From which amounts on an offset counts.
    family : Family, optional
        Of hearts and standard planes; the shipped one by default.

    Raises
    ------
    ValueError
        If there is no clip, or the clips are of different windows.

    Notes
    -----
    Size and shape of the heart are fitted along, so that a large atrium is not taken for a tilted plane. Probabilities
    hold for hearts like the drawn ones (docs/pose-fit.md); nothing was compared with real animals.
    """
    if not clips:
        raise ValueError("no clip to fit a pose to; give at least one clip with landmarks")
    windows = {view_window(clip.view) for clip in clips}
    if len(windows) > 1:
        names = ", ".join(sorted(window.value for window in windows))
        raise ValueError(f"the clips are of different windows ({names}); fit each window by itself")
    known = load_family() if family is None else family
    least = (Limits() if limits is None else limits).internal()
    problem = Problem(known, clips, species, weight_kg)
    ends = search(problem, _begun(known, clips, species, weight_kg, problem))
    unit_mm = float(units_mm(known, ends[0].numbers[None, problem.heart_part()])[0])
    poses = tuple(_clip_pose(problem, ends, index, least, unit_mm) for index in range(len(clips)))
    return WindowPose(
        window=windows.pop(),
        clips=poses,
        place=shared_place(problem, ends[0], least, unit_mm) if len(clips) > 1 else (),
        heart=_heart(problem, ends[0]),
        has_settled=ends[0].has_settled,
    )


def _begun(
    family: Family, clips: Sequence[ClipSeen], species: Species | None, weight_kg: float | None, problem: Problem
) -> list[Floats]:
    """Return the starts: for one clip all; for several the standard planes, and what each clip says by itself."""
    if len(clips) == 1:
        return starts(problem, 0)
    plain = problem.start()
    alone = plain.copy()
    for index, clip in enumerate(clips):
        single = Problem(family, [clip], species, weight_kg)
        alone[problem.move_part(index)] = search(single, starts(single, 0))[0].numbers[single.move_part(0)]
    return [plain, alone]


def _clip_pose(problem: Problem, ends: Sequence[End], index: int, limits: Floats, unit_mm: float) -> ClipPose:
    draws = draw_movements(problem, ends, index)
    clip = problem.clips[index]
    aim = _aims(problem, index, draws) * unit_mm
    return ClipPose(
        view=clip.view,
        offsets=tuple(
            offset_of(draws.amounts[:, kind], kind, float(limits[kind]), unit_mm) for kind in range(len(ORDER))
        ),
        pairs=either_or(draws, limits),
        none_probability=draws.none_probability,
        plane_offset_mm=estimate(-aim[:, 1]),
        image_shift_mm=estimate(aim[:, 0]),
        long_axis_off_deg=estimate(_long_axis_off_deg(problem, ends[0], index)),
        misfit_ratio=problem.misfit(ends[0].numbers, index),
        n_landmarks=len({one.landmark for one in clip.seen}),
    )


def _aims(problem: Problem, index: int, draws: Draws) -> Floats:
    """Return where the point to aim at lies seen from the probe (N, 3), in units, over the draws."""
    n = len(draws.amounts)
    heart, plane = np.zeros((n, problem.family.n_heart)), np.zeros((n, len(ORDER)))
    return probe_at(problem.family, problem.clips[index].view, heart, plane, draws.amounts).aim


def _long_axis_off_deg(problem: Problem, end: End, index: int) -> Floats:
    """Return draws (N,) of the angle between the left ventricle's long axis and the plane, degrees."""
    view = problem.clips[index].view
    drawn = _drawn(end, np.r_[problem.heart_part(), problem.plane_part(view), problem.move_part(index)])
    heart, plane, movement = np.split(drawn, [problem.family.n_heart, problem.family.n_heart + len(ORDER)], axis=1)
    probe = probe_at(problem.family, view, heart, plane, movement)
    # Long is the first axis of the frame of the heart, y the normal of the plane.
    return np.asarray(np.degrees(np.arcsin(np.clip(np.abs(probe.axes[:, 0, 1]), 0.0, 1.0))))


def _drawn(end: End, which: NDArray[np.int64]) -> Floats:
    """Return draws (N, n) of some of the numbers, all movements held loosely."""
    covariance = np.linalg.inv(end.local.curvature)[np.ix_(which, which)]
    return np.random.default_rng(SEED).multivariate_normal(end.numbers[which], covariance, N_HEARTS)


def _heart(problem: Problem, end: End) -> FittedHeart:
    family = problem.family
    hearts = _drawn(end, np.r_[problem.heart_part()])
    unit = units_mm(family, hearts)
    lv, la_ao, wall = (family.sizes_mean + hearts @ family.sizes_slope).T
    return FittedHeart(
        unit_mm=estimate(unit),
        lv_diameter_mm=estimate(lv * unit),
        la_ao_ratio=estimate(la_ao),
        free_wall_mm=estimate(wall * unit),
    )
