"""Simulated 2-D clips as a person marks them: ends of calipers, borders and landmarks, drawn off by a stated error."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.animal import Animal
from fanlight.heart.calipers import Caliper, find_long_axis, measure_map, moments_of, whole_map
from fanlight.heart.cycle import Still, state_at, still_time_ms
from fanlight.heart.label_map import LabelMap
from fanlight.heart.pose import Pose
from fanlight.heart.rhythm import beats
from fanlight.measure.areas import HAND_PX
from fanlight.measure.marked import GIVEN_BY
from fanlight.measure.picture.placed import Given, Grid, Placed, Points, moved_out
from fanlight.measure.shapes import Pixel
from fanlight.study import ENGINE, BeatSource, ClipTime, FrameTimes, Landmark

RIGHT = "right_parasternal_"
BASE, TRUNK = f"{RIGHT}short_axis_aorta", f"{RIGHT}short_axis_pulmonary_artery"
CHORDAE = f"{RIGHT}short_axis_chordae"
FOUR, OUTFLOW = f"{RIGHT}long_axis_four_chamber", f"{RIGHT}long_axis_outflow"
VIEWS = (BASE, CHORDAE, FOUR, OUTFLOW, TRUNK)
N_ROWS = 300  # of a map: on its pixels the marks are set
SCALE_SD = 0.005  # share of a scale, as one read off a ruler
OFF_PLANE_MM = 2.5  # a place farther off is not in the picture
TRACE_POINTS = 24  # clicks along a ventricle's border
_BEAT = 2  # of the recording: the first may lie before its start
_PERIOD = 30.0
# Where the moments of the beat lie in a clip of 30 frames a beat (common practice, no source).
_FRAME = {
    Still.END_DIASTOLE: 0, Still.MID_EJECTION: 6, Still.END_SYSTOLE: 11, Still.AFTER_AORTIC_CLOSURE: 12,
    Still.EARLY_FILLING: 16,
}  # fmt: skip
_D, _S = Still.END_DIASTOLE, Still.END_SYSTOLE
_WALLS = (
    ("lv_internal_diameter", _D, "lvidd"), ("lv_internal_diameter", _S, "lvids"), ("septum", _D, "ivsd"),
    ("septum", _S, "ivss"), ("free_wall", _D, "lvwd"), ("free_wall", _S, "lvws"),
)  # fmt: skip
# Which caliper's line a person draws for which quantity, and when.
_LINES = {
    CHORDAE: _WALLS,
    FOUR: (*_WALLS, ("left_atrium_long_axis", _S, "left_atrium_long_axis")),
    OUTFLOW: (
        *_WALLS, ("left_atrium_long_axis", _S, "left_atrium_long_axis"), ("epss", Still.EARLY_FILLING, "epss"),
        ("aortic_ring", Still.MID_EJECTION, "aortic_annulus"),
    ),
    TRUNK: (("pulmonary_trunk", _D, "pulmonary_trunk"), ("aorta_beside_trunk", _D, "aortic_root")),
}  # fmt: skip
SHORT = {BASE: "base", CHORDAE: "chordae", FOUR: "four", OUTFLOW: "outflow", TRUNK: "trunk"}
BY_WAY = {"commissure": "commissure-parallel", "line": "single line"}


@dataclass(frozen=True, kw_only=True, eq=False)
class SeenView:
    """One view of one animal at the moments at which it is measured: maps, and what the calipers read off them."""

    view: str
    maps: Mapping[Still, LabelMap]
    calipers: Mapping[Still, Mapping[str, Caliper]]

    @property
    def mm_per_px(self) -> float:
        """Size of a pixel of the clip: that of its first map."""
        return next(iter(self.maps.values())).mm_per_px

    def on_clip(self, moment: Still, points_px: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return points (..., 2) of a moment's map in pixels of the clip, which are the same at all moments."""
        return self.maps[moment].to_plane_mm(points_px) / self.mm_per_px


@dataclass(frozen=True, kw_only=True)
class Hand:
    """How well marks are set.

    Attributes
    ----------
    stated_px : float
        One standard deviation in each direction, as the marks say.
    true_px : float
        As they are drawn; a whole trace lies off by as much besides.
    scale_share : float
        One standard deviation of the scale, stated and true.
    """

    stated_px: float = HAND_PX
    true_px: float = HAND_PX
    scale_share: float = SCALE_SD


def see(animal: Animal, pose: Pose, view: str, *, n_rows: int = N_ROWS) -> SeenView:
    """Return a view of an animal from a pose.

    Raises
    ------
    ValueError
        If the whole heart lies behind the probe, or the beat lacks a moment.
    """
    all_beats = beats(animal.rhythm, 6000.0)
    moments = moments_of(view)
    states = {m: state_at(animal.rhythm, all_beats, still_time_ms(animal.rhythm, all_beats, _BEAT, m)) for m in moments}
    maps = {m: whole_map(animal, states[m], pose, n_rows=n_rows) for m in moments}
    return SeenView(view=view, maps=maps, calipers={m: measure_map(maps[m], view) for m in moments})


def clip_time() -> ClipTime:
    """Return the beats of a clip as they are found with an ECG."""
    return ClipTime(
        times=FrameTimes(), beat_source=BeatSource.R_WAVE_TAG, beat_period_frames=_PERIOD,
        end_diastole_frames=(_FRAME[_D],), end_systole_frames=(_FRAME[_S],),
    )  # fmt: skip


def drawn_by_hand(seen: SeenView, hand: Hand, rng: np.random.Generator, *, way: str = "") -> tuple[Given, Grid]:
    """Return what a person marks in a view: lines, borders of the ventricle, hinges and apex, each off by its error.

    Parameters
    ----------
    seen : SeenView
    hand : Hand
    rng : Generator
        Draws the errors of points and of the scale.
    way : str
        "commissure" or "line": the convention at the heart base.
    """
    lines = [*_lines(seen), *(_base_lines(seen, way) if seen.view == BASE else ())]
    traces, points = _ventricle(seen) if seen.view == FOUR else ([], [])

    def off(what: str, moment: Still, at: NDArray[np.float64], *, is_trace: bool = False) -> Placed:
        errors = rng.normal(0, hand.true_px, at.shape)
        placed: Points = tuple((float(row), float(col)) for row, col in seen.on_clip(moment, at) + errors)
        if is_trace:
            placed = moved_out(placed, float(rng.normal(0, hand.true_px)))
        sd = (hand.stated_px,) * len(at)
        return Placed(what=what, frame=_FRAME[moment], points=placed, sd_px=sd)

    given = Given(
        given_by=GIVEN_BY, how="marked by hand",
        lines=tuple(off(*line) for line in lines),
        traces=tuple(off(*trace, is_trace=True) for trace in traces),
        landmarks=tuple(off(*point) for point in points),
    )  # fmt: skip
    return given, _grid(seen, hand.scale_share, rng)


def found_landmarks(seen: SeenView, sd_mm: float, rng: np.random.Generator) -> tuple[Given, Grid]:
    """Return the model's landmarks near the plane at both ends of the beat, each off by a stated spread, mm."""
    placed = []
    spread_px = sd_mm / seen.mm_per_px
    for moment in (_D, _S):
        if moment not in seen.maps:
            continue
        for landmark, place_mm in seen.maps[moment].landmarks_mm.items():
            at, off_mm = seen.maps[moment].from_patient_mm(place_mm)
            if abs(float(off_mm)) <= OFF_PLANE_MM:
                row, col = seen.on_clip(moment, at) + rng.normal(0, spread_px, 2)
                point = ((float(row), float(col)),)
                placed.append(Placed(what=landmark.name, frame=_FRAME[moment], points=point, sd_px=(spread_px,)))
    given = Given(given_by=ENGINE, how="landmarks of the model", is_found=True, landmarks=tuple(placed))
    return given, _grid(seen, SCALE_SD, rng)


def true_values(seen: SeenView, *, way: str = "") -> dict[str, float]:
    """Return the true values of a view by the key of their quantity: calipers on the very planes that were marked."""
    found = {
        key: value
        for name, moment, key in (*_LINES.get(seen.view, ()), *_MADE.get(seen.view, ()))
        if key != "aortic_root" and (value := seen.calipers[moment][name].value) is not None
    }
    if seen.view == BASE:
        at = seen.calipers[Still.AFTER_AORTIC_CLOSURE]
        names = {"la_ao": "la_ao", "left_atrium": "left_atrium", "aortic_root": "aortic_root"}
        found |= {key: v for key, name in names.items() if (v := at[f"{name}_by_{way}"].value) is not None}
    if {"lvidd", "lvids"} <= set(found):
        found["fractional_shortening"] = 100 * (found["lvidd"] - found["lvids"]) / found["lvidd"]
    if {"edv", "esv"} <= set(found):
        found["ejection_fraction"] = 100 * (found["edv"] - found["esv"]) / found["edv"]
    return found


_LABELS = {
    "lvidd": "LVIDd", "lvids": "LVIDs", "ivsd": "IVSd", "ivss": "IVSs", "lvwd": "LVWd", "lvws": "LVWs",
    "fractional_shortening": "FS", "lv_length_d": "LVLd", "lv_length_s": "LVLs", "epss": "EPSS",
    "left_atrium_long_axis": "LA long axis", "mitral_annulus": "mitral annulus, end-diastole",
    "aortic_annulus": "aortic annulus", "pulmonary_trunk": "MPA", "mpa_ao": "MPA:Ao",
}  # fmt: skip
_BY_WAYS = {"edv": "EDV", "esv": "ESV", "ejection_fraction": "EF"}


def true_by_label(seen: SeenView, way: str = "") -> dict[str, float]:
    """Return the true values of a view by the labels under which they are measured."""
    true = true_values(seen, way=way)
    found = {_LABELS[key]: value for key, value in true.items() if key in _LABELS}
    if seen.view == BASE:
        names = {"la_ao": "LA:Ao", "left_atrium": "LA", "aortic_root": "Ao"}
        found |= {f"{names[key]}, {BY_WAY[way]}": value for key, value in true.items()}
    for key, name in _BY_WAYS.items():
        if key in true:
            found |= {f"{name}, {how}": true[key] for how in ("method of discs", "area-length")}
    if seen.view == OUTFLOW and {"left_atrium_long_axis", "aortic_annulus"} <= set(true):
        found["LA:Ao long axis"] = true["left_atrium_long_axis"] / true["aortic_annulus"]
    return found


def true_rings(seen: SeenView) -> dict[str, float]:
    """Return the true rings and lengths at both ends of the beat, by the labels of what found landmarks measure.

    The ring of the aorta is measured over both together.
    """
    found = {}
    aortic = []
    for moment, when, length in ((_D, "end-diastole", "LVLd"), (_S, "end-systole", "LVLs")):
        read = seen.calipers.get(moment, {})
        for name, label in (("mitral_ring", f"mitral annulus, {when}"), ("lv_length", length)):
            if name in read and (value := read[name].value) is not None:
                found[label] = value
        if "aortic_ring" in read and (value := read["aortic_ring"].value) is not None:
            aortic.append(value)
    return found | ({"aortic annulus": sum(aortic) / len(aortic)} if aortic else {})


# What is made of several lines, or of none.
_MADE: dict[str, tuple[tuple[str, Still, str], ...]] = {
    FOUR: (
        ("lv_length", _D, "lv_length_d"), ("lv_length", _S, "lv_length_s"), ("lv_volume", _D, "edv"),
        ("lv_volume", _S, "esv"), ("mitral_ring", _D, "mitral_annulus"),
    ),
    TRUNK: (("pa_ao", _D, "mpa_ao"),),
}  # fmt: skip


def _lines(seen: SeenView) -> list[tuple[str, Still, NDArray[np.float64]]]:
    found = []
    for name, moment, key in _LINES.get(seen.view, ()):
        caliper = seen.calipers[moment][name]
        if caliper.lines:
            found.append((key, moment, np.array(caliper.lines[0])))
    return found


def _base_lines(seen: SeenView, way: str) -> list[tuple[str, Still, NDArray[np.float64]]]:
    moment = Still.AFTER_AORTIC_CLOSURE
    calipers = ((key, seen.calipers[moment][f"{key}_by_{way}"]) for key in ("left_atrium", "aortic_root"))
    return [(key, moment, np.array(caliper.lines[0])) for key, caliper in calipers if caliper.lines]


def _ventricle(
    seen: SeenView,
) -> tuple[list[tuple[str, Still, NDArray[np.float64]]], list[tuple[str, Still, NDArray[np.float64]]]]:
    """Return the borders from hinge to hinge, and hinges with apex."""
    traces, points = [], []
    for key, moment in (("edv", _D), ("esv", _S)):
        axis = find_long_axis(seen.maps[moment])
        if isinstance(axis, str):
            continue
        traces.append((key, moment, _border(axis.ventricle.outline_px, axis.hinges_px, axis.apex_px)))
        hinges = (Landmark.MITRAL_SEPTAL_HINGE, Landmark.MITRAL_PARIETAL_HINGE)
        points += [(hinge.name, moment, at[None]) for hinge, at in zip(hinges, axis.hinges_px, strict=True)]
        points.append((Landmark.LV_APEX.name, moment, axis.apex_px[None]))
    return traces, points


def _border(
    outline_px: NDArray[np.float64], hinges_px: tuple[NDArray[np.float64], ...], apex_px: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return clicks along a closed outline from the one hinge by the apex to the other."""
    n = len(outline_px)
    first, second, tip = (int(np.hypot(*(outline_px - at).T).argmin()) for at in (*hinges_px, apex_px))
    is_on = (tip - first) % n <= (second - first) % n
    reach = (second - first) % n if is_on else -((first - second) % n)
    steps = np.round(np.linspace(0, reach, TRACE_POINTS)).astype(int)[1:-1]
    # the apex is where a person clicks for certain
    steps = np.unique(np.append(steps, (tip - first) % n if is_on else -((first - tip) % n)))
    steps = steps if is_on else steps[::-1]
    return np.concatenate([hinges_px[0][None], outline_px[(first + steps) % n], hinges_px[1][None]])


def _grid(seen: SeenView, share: float, rng: np.random.Generator) -> Grid:
    size = seen.mm_per_px * (1 + float(rng.normal(0, share)))
    return Grid(pixel=Pixel(down=size, across=size), has_mm=True, mm_share=share)
