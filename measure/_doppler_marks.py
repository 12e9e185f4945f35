"""The marks that a mentor would draw on the Doppler clips of a subject, from what is true of the simulation.

Both hinges of the valve, or the middle of its ring where it has none marked; what lies before or beyond it where the
picture shows that; and a line along the stream. They are drawn on the first frame, or on the guide of a spectrum, at
the moment that it shows. A hand errs: the root mean square of a point's error is HAND_MM, drawn from the seed
(engineering judgement). Nothing that is not in the picture is marked.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterator

import numpy as np

from fanlight.critique.doppler.guide import FLOW_AXIS
from fanlight.critique.doppler.valve_plane import CENTRES, HINGES
from fanlight.heart.animal import animal_landmarks
from fanlight.heart.cycle import state_at
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.pose import Vector
from fanlight.simulate.clip.body_scale import body_scale
from fanlight.simulate.clip.colour_box_at import place_in_picture
from fanlight.simulate.clip.colour_clip import colour_film
from fanlight.simulate.clip.doppler_setting import DopplerClip, Sought
from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.clip.spectral_clip import spectral_film
from fanlight.simulate.machine.animal_scene import scene_of
from fanlight.simulate.machine.beams import line_geometry
from fanlight.simulate.screen.screen_place import place_sector
from fanlight.simulate.screen.screen_spectral import place_spectral_guide
from fanlight.simulate.screen.screen_spectral_style import spectral_style
from fanlight.simulate.screen.screen_truth import Placed
from fanlight.simulate.spectral.spectral_beam import on_cursor_mm
from fanlight.study import DrawnMark, Landmark, MarkKind, Point, Valve
from measure._doppler_bench import Bench, Wanted, draw_bench, rungs_of, wanted_of

HAND_MM = 1.5  # root mean square of a point's error in the picture
AXIS_RADII = 2.0  # length of the line along the flow, in radii of the ring
BESIDE_MM = 6.0  # from the image plane, in an animal of 10 kg: further aside a place is not in the picture
# Beside the valve, what tells which way its flow runs.
BEYOND = {
    Valve.MITRAL: (Landmark.LV_APEX,),
    Valve.TRICUSPID: (Landmark.RV_APEX,),
    Valve.AORTIC: (Landmark.AORTIC_ASCENDING, Landmark.AORTIC_SINUS_CENTRE),
    Valve.PULMONIC: (Landmark.PULMONARY_BIFURCATION,),
}


def marks_of(seed: int, ring: Ring) -> dict[str, tuple[DrawnMark, ...]]:
    """Return the marks on each clip of a subject, by the name of its file."""
    bench = draw_bench(seed, ring)
    return {f"{wanted.name}.dcm": _marks(bench, wanted) for wanted in wanted_of(rungs_of(bench))}


def _marks(bench: Bench, wanted: Wanted) -> tuple[DrawnMark, ...]:
    placed = _placed(bench, wanted.clip)
    return () if placed is None else tuple(_drawn(bench, wanted, _Hand(wanted, placed, bench)))


class _Hand:
    """Where a point of the patient is marked on the stored frame: where it is seen, and a little off."""

    def __init__(self, wanted: Wanted, placed: Placed, bench: Bench) -> None:
        setting = wanted.clip.clip
        self._pose, self._placed = setting.pose, placed
        self._lines = line_geometry(setting.probe, setting.console)
        self._beside_mm = BESIDE_MM * body_scale(bench.subject.animal)
        name = int.from_bytes(hashlib.sha256(wanted.name.encode()).digest()[:4], "big")
        self._rng = np.random.default_rng([bench.seed, name, 37])

    def is_shown(self, point_mm: Vector) -> bool:
        """Whether the image plane runs through or close by a point."""
        return abs(float(self._pose.to_probe(point_mm)[1])) <= self._beside_mm

    def mark(self, point_mm: Vector) -> Point | None:
        """Return (row, col) of a point as it is seen, with the error of a hand; None outside the picture."""
        depth, angle = place_in_picture(self._lines, self._pose, point_mm)
        error_px = self._rng.normal(0.0, HAND_MM / math.sqrt(2), 2) / self._placed.mm_per_px
        inside = 0.0 < depth < self._lines.depth_mm and self._lines.left_deg < angle < self._lines.right_deg
        if not inside:
            return None
        sector, turn = self._placed.sector, math.radians(angle)
        radius = sector.near_px + depth / self._placed.mm_per_px
        return (
            sector.apex_row_px + radius * math.cos(turn) + float(error_px[0]),
            sector.apex_col_px + radius * math.sin(turn) + float(error_px[1]),
        )


def _drawn(bench: Bench, wanted: Wanted, hand: _Hand) -> Iterator[DrawnMark]:
    """Yield the marks at the valve that the clip was taken for, whatever the hand met."""
    doppler = wanted.clip.doppler
    valve = doppler.valve
    points = animal_landmarks(bench.subject.animal, _state(bench, wanted.clip))
    hinges = HINGES.get(valve, ())
    at = [hand.mark(points[name]) for name in hinges]
    named = list(zip(hinges, at, strict=True)) if at and all(point is not None for point in at) else []
    if not named:
        named = [(CENTRES[valve], hand.mark(points[CENTRES[valve]]))]
    shown = [name for name in BEYOND[valve] if hand.is_shown(points[name])]
    named += [(name, hand.mark(points[name])) for name in shown]
    for name, point in named:
        if point is not None:
            yield DrawnMark(kind=MarkKind.POINT, frame=0, points=(point,), landmark=name.name)
    if doppler.sought is Sought.ANNULUS:
        return
    now = bench.flow.valve(valve, Sought.FORWARD)
    middle, along = points[CENTRES[valve]], _stream(bench, wanted)
    along = now.flow if along is None else along
    ends = [hand.mark(middle), hand.mark(middle + AXIS_RADII * now.radius_mm * along)]
    if ends[0] is not None and ends[1] is not None:
        yield DrawnMark(kind=MarkKind.LINE, frame=0, points=(ends[0], ends[1]), label=FLOW_AXIS)


def _stream(bench: Bench, wanted: Wanted) -> Vector | None:
    """Return the direction of the stream at a steady gate when it is fastest, as colour shows it; None for colour."""
    peak, clip = wanted.rung.peak, wanted.rung.steady
    if peak is None:
        return None
    place = on_cursor_mm(clip.clip.probe, peak.cursor_deg, np.asarray(peak.depth_mm))
    x, y, z = (np.asarray([v], np.float32) for v in clip.clip.pose.to_patient(np.asarray(place, np.float64)))
    state = state_at(bench.subject.animal.rhythm, bench.flow.body.beats, peak.time_ms)
    tissue = np.asarray(scene_of(bench.subject.animal).moving(state, x, y, z).tissue)
    velocity = np.stack(bench.flow.body(peak.time_ms, x, y, z, tissue).velocity_mm_s, axis=-1).astype(np.float64)[0]
    speed = float(np.linalg.norm(velocity))
    return None if speed <= 0.0 else velocity / speed


def _state(bench: Bench, clip: DopplerClip) -> CycleState:
    """Return the heart at the moment of the first frame, or of the guide."""
    subject = bench.subject
    if clip.doppler.is_spectral:
        return spectral_film(subject.animal, clip.clip, start_ms=subject.start_ms).states[0]
    return colour_film(subject.animal, clip.clip, clip.doppler.colour, start_ms=subject.start_ms).states[0]


def _placed(bench: Bench, clip: DopplerClip) -> Placed | None:
    """Return where the picture lies on the screen; None without one."""
    layout, lines = bench.subject.generator.layout, line_geometry(clip.clip.probe, clip.clip.console)
    if not clip.doppler.is_spectral:
        return place_sector(
            layout, left_deg=lines.left_deg, right_deg=lines.right_deg, face_radius_mm=lines.apex_mm,
            depth_mm=lines.depth_mm,
        )  # fmt: skip
    if not clip.doppler.has_guide:
        return None
    return place_spectral_guide(
        layout, spectral_style(layout, has_guide=True), left_deg=lines.left_deg, right_deg=lines.right_deg,
        face_radius_mm=lines.apex_mm, depth_mm=lines.depth_mm,
    )  # fmt: skip
