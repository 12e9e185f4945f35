"""What the picture network says of a clip, beside what is true of it: one flat record a clip."""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.heart.calipers import measure_lv_short_axis
from fanlight.heart.label_map import LabelMap, label_map
from fanlight.heart.tissue import Tissue
from fanlight.recognise.picture_network import PictureNetwork
from fanlight.recognise.picture_square import SIDE_PX
from fanlight.simulate.clip.film import shoot_times
from measure._recognition_clips import Shown
from training.draw import MASK_PX
from training.label_sets import SHOWN_UNITS, Structure

FINE = 3  # times finer than the masks, for calipers: borders are found between their pixels
TRUE_PX = 240  # rows of the map from which the truth is read
LV_VIEWS = ("right_parasternal_short_axis_papillary_muscles", "right_parasternal_short_axis_chordae")
_TISSUE_OF = {
    Structure.LV_CAVITY: Tissue.LV_CAVITY, Structure.PAPILLARY: Tissue.PAPILLARY_CRANIAL,
    Structure.SEPTUM: Tissue.SEPTUM, Structure.LV_FREE_WALL: Tissue.LV_FREE_WALL,
    Structure.RV_CAVITY: Tissue.RV_CAVITY, Structure.RV_WALL: Tissue.RV_WALL,
    Structure.MITRAL_LEAFLET: Tissue.MITRAL_SEPTAL_LEAFLET,
}  # fmt: skip


def record_of(network: PictureNetwork, shown: Shown, second: PictureNetwork | None = None) -> dict[str, Any]:
    """Return the record of a clip; of a second training only what it calls the view."""
    shot, sample = shown.shot, shown.sample
    animal = shot.subject.animal
    said = network.ask(sample.frames, sample.inside)
    flipped = network.ask(sample.frames[:, :, ::-1], sample.inside[:, ::-1])
    upset = network.ask(sample.frames[:, ::-1], sample.inside[::-1])
    return {
        "seed": shot.subject.seed, "kind": shot.kind.value, "view": shot.view, "heart": animal.heart.value,
        "species": animal.species.value, "weight_kg": round(animal.weight_kg, 2),
        "unit_mm": round(shot.subject.unit_mm, 2),
        "shares": _short(sample.shares), "said": _short(said["view"]), "frame_said": _short(said["frame_view"].mean(0)),
        "said_second": _short(second.ask(sample.frames, sample.inside)["view"]) if second else None,
        "turned": shot.named.is_mirrored, "mirrored": round(float(said["mirrored"][0]), 4),
        "mirrored_flipped": round(float(flipped["mirrored"][0]), 4),
        "said_flipped": _short(flipped["view"]), "said_upset": _short(upset["view"]),
        "phase_off": _short(_turns(said["phase"] - sample.phase)),
        "overlap": _overlaps(said["structures"], sample),
        "landmarks": _landmarks(said["landmarks"], shown),
        "lv_mm": _ventricle(said["structures"][0], shown) if shot.view in LV_VIEWS else None,
    }  # fmt: skip


def _short(values: NDArray[np.float32]) -> list[float]:
    return [round(float(v), 4) for v in values]


def _turns(off: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return differences of phase as shares of a beat, -0.5 to 0.5."""
    return (off + 0.5) % 1.0 - 0.5


def _overlaps(said: NDArray[np.float32], sample: Any) -> list[list[int]]:
    """Return for each structure the pixels it truly has, those it is said to have, and those of both."""
    named = said.argmax(1)
    return [
        [int((sample.masks == s).sum()), int((named == s).sum()), int(((sample.masks == s) & (named == s)).sum())]
        for s in Structure
    ]


def _landmarks(said: NDArray[np.float32], shown: Shown) -> list[list[float]]:
    """Return for each landmark of each frame that is there or said to be: number, is there, said, error, spread."""
    sample = shown.sample
    rows = []
    for frame in range(len(said)):
        error = np.hypot(*(said[frame, :, :2] - sample.points_px[frame]).T) * sample.mm_per_px
        for mark in range(said.shape[1]):
            there = sample.off_units[frame, mark] < SHOWN_UNITS
            if there or said[frame, mark, 3] >= 0.5:
                spread = said[frame, mark, 2] * sample.mm_per_px
                rows.append([mark, int(there), float(said[frame, mark, 3]), float(error[mark]), float(spread)])
    return [[round(v, 3) for v in row] for row in rows]


def tissue_map(shares: NDArray[np.float32], mm_per_px: float) -> tuple[NDArray[np.uint8], float]:
    """Return a map of tissue from shares of structures (structure, row, col), finer than they, and its pixel in mm."""
    size = MASK_PX * FINE
    fine = np.stack([cv2.resize(np.asarray(one), (size, size), interpolation=cv2.INTER_LINEAR) for one in shares])
    table = np.full(len(Structure), int(Tissue.FAT), np.uint8)
    for structure, tissue in _TISSUE_OF.items():
        table[int(structure)] = int(tissue)
    return table[fine.argmax(0)], mm_per_px * SIDE_PX / size


def calipers_mm(found: LabelMap) -> list[float | None]:
    """Return diameter, septum and free wall of the left ventricle on a map."""
    return [None if c.value is None else round(c.value, 3) for c in measure_lv_short_axis(found)]


def _ventricle(shares: NDArray[np.float32], shown: Shown) -> list[list[float | None]]:
    """Return true and said calipers at the first frame, end-diastole; the truth is cut finely from the animal."""
    shot, pose = shown.shot, shown.shot.setting.pose
    animal, depth_mm = shot.subject.animal, shot.setting.console.depth_mm
    state = shoot_times(animal, shot.setting, start_ms=shot.start_ms, rate_hz=10.0).states[0]
    true = label_map(animal, state, pose, depth_mm=depth_mm, mm_per_px=depth_mm / TRUE_PX, half_width_mm=0.7 * depth_mm)
    tissue, mm_per_px = tissue_map(shares, shown.sample.mm_per_px)
    said = LabelMap(tissue=tissue, mm_per_px=mm_per_px, pose=pose, face_row_px=0.0, face_col_px=0.0)
    return [calipers_mm(true), calipers_mm(said)]
