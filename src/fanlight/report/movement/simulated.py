"""The view before and after a movement, simulated: two small pictures that carry their label in their own pixels."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.heart.animal import Animal
from fanlight.heart.cycle import Still, still
from fanlight.heart.pose import Pose
from fanlight.report.movement.chosen import ChosenMove
from fanlight.report.movement.model_animal import model_animal, moved_poses
from fanlight.simulate.machine.animal_scene import scene_of
from fanlight.simulate.machine.b_mode import render
from fanlight.simulate.machine.console import default_console, default_depth_mm
from fanlight.simulate.machine.probe import default_probe
from fanlight.simulate.machine.scan_convert import fitted_sector, scan_convert
from fanlight.study import ClipReading, Sector
from fanlight.study.patient import Species

LABEL = "SIMULATION"
_ROWS, _COLS, _BAND_PX, _MARGIN_PX = 330, 380, 26, 5
# A third fewer lines and samples than a console forms: half a second a picture, and no less to see at a few centimetres
# of paper (docs/letter.md).
_N_LINES, _N_SAMPLES = 112, 320
_DEPTH_MM, _WIDTH_DEG = (20.0, 300.0), (30.0, 100.0)  # that the model's machine can make of what a clip says
_GREY = 205  # of the label: light on black, and dark enough beside it not to dazzle in a reading room
_MOMENTS = {  # at which the trade judges a plane, where it is not end-diastole
    "right_parasternal_short_axis_mitral_valve": Still.EARLY_FILLING,
    "right_parasternal_short_axis_aorta": Still.AFTER_AORTIC_CLOSURE,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class SectorSize:
    """How deep and how wide a clip looks, as far as it is known."""

    depth_mm: float | None
    width_deg: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class SimulatedPair:
    """PNG pictures of the model animal; both say in their pixels that they are simulated."""

    before: bytes
    after: bytes


def sector_size_of(reading: ClipReading) -> SectorSize:
    """Return depth and width of a clip as seen from the middle of the face; None where they are not known."""
    sector, scale = reading.layout.picture, reading.layout.scale
    if not isinstance(sector, Sector):
        return SectorSize(depth_mm=None, width_deg=None)
    half = math.radians(sector.width_deg / 2)
    beside, below = sector.far_px * math.sin(half), sector.far_px * math.cos(half) - sector.near_px
    return SectorSize(
        depth_mm=None if scale is None else sector.depth_px * scale.mm_per_row_px,
        width_deg=2 * math.degrees(math.atan2(beside, max(below, 1.0))),
    )


@lru_cache(maxsize=64)  # a desk makes its preview anew after each act; 64 pairs take about 10 MB
def simulated_pair(species: Species, weight_kg: float, move: ChosenMove, size: SectorSize) -> SimulatedPair:
    """Return the view as the probe stood in a clip, and after the movement, on the model animal of this size.

    Parameters
    ----------
    species, weight_kg
        Of the scanned animal; the model is a healthy one.
    move : ChosenMove
        The key of its clip seeds the speckle, so that the same clip gives the same bytes.
    size : SectorSize
        Depth and width of the clip.

    Raises
    ------
    ValueError
        If the model cannot make this animal or carry out the movement; the message says which.
    """
    animal = model_animal(species, weight_kg)
    poses = moved_poses(animal, move)
    seed = int(move.clip.encode().hex() or "0", 16) % 2**32
    before, after = (
        _labelled(_picture(animal, pose, size, _MOMENTS.get(move.view, Still.END_DIASTOLE), seed), words)
        for pose, words in ((poses.before, "before"), (poses.after, "after"))
    )
    return SimulatedPair(before=_png(before), after=_png(after))


def _picture(animal: Animal, pose: Pose, size: SectorSize, moment: Still, seed: int) -> NDArray[np.uint8]:
    probe = default_probe(animal.weight_kg)
    depth_mm = float(np.clip(size.depth_mm or default_depth_mm(animal.species, animal.weight_kg), *_DEPTH_MM))
    console = default_console(probe, animal.species, animal.weight_kg, depth_mm)
    width_deg = float(np.clip(size.width_deg or console.width_deg, *_WIDTH_DEG))
    console = replace(console, n_lines=_N_LINES, n_samples=_N_SAMPLES, width_deg=min(width_deg, probe.widest_deg))
    beams = render(scene_of(animal), pose, probe, console, [still(moment)], np.random.default_rng(seed))
    sector = fitted_sector(beams, rows=_ROWS, cols=_COLS, margin_px=_MARGIN_PX)
    painted = scan_convert(beams, sector, rows=_ROWS, cols=_COLS)[0]
    rows = math.ceil(sector.apex_row_px + sector.far_px) + _MARGIN_PX  # a wide sector needs fewer
    return np.asarray(painted[:rows], np.uint8)


def _labelled(picture: NDArray[np.uint8], when: str) -> NDArray[np.uint8]:
    """Return the picture with its label on a band of its own: cut out of its letter it still says what it is."""
    band = np.zeros((_BAND_PX, picture.shape[1]), np.uint8)
    out = np.vstack([picture, band])
    for words, is_right in ((LABEL, False), (when, True)):
        (width, height), _ = cv2.getTextSize(words, cv2.FONT_HERSHEY_SIMPLEX, 0.6, 1)
        x = picture.shape[1] - width - 8 if is_right else 8
        y = picture.shape[0] + (_BAND_PX + height) // 2
        cv2.putText(out, words, (x, y), cv2.FONT_HERSHEY_SIMPLEX, 0.6, _GREY, 1, cv2.LINE_AA)
    return out


def _png(picture: NDArray[np.uint8]) -> bytes:
    return bytes(cv2.imencode(".png", picture, [cv2.IMWRITE_PNG_COMPRESSION, 9])[1])
