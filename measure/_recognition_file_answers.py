"""What the product says of a clip in a file, beside what is true of it: one flat record a clip."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any
from unittest.mock import patch

import cv2
import numpy as np
from numpy.typing import NDArray
from pydicom import dcmread, dcmwrite
from pydicom.encaps import encapsulate, generate_frames

from fanlight.critique.every_family import EVERY_FAMILY
from fanlight.heart.animal import animal_landmarks
from fanlight.intake import Limits
from fanlight.recognise import picture_reading
from fanlight.recognise.found_lines import find_lines
from fanlight.recognise.odd_picture import what_speaks_against
from fanlight.recognise.picture_network import PictureNetwork, shipped_network
from fanlight.recognise.picture_reading import why_not_asked, with_proposal
from fanlight.reference.chambers import ViewChambers, read_chambers
from fanlight.reference.load import load_house
from fanlight.reference.recognition import RecognitionLimits, read_recognition_limits
from fanlight.reference.views import read_views
from fanlight.review import clip_pass
from fanlight.review.clip_pass import ClipPass, Known
from fanlight.study import House, Landmark, Picture, Sector, ViewSource
from measure._one_clip import one_clip
from measure._recognition_file_clips import Stored, structures_before
from measure._screen_photo import photographed
from training.draw import HIDDEN_NAMELESS
from training.label_sets import Structure

BARE_RUNS = 2
_LIMITS = Limits()
NO_CRITERIA = tuple(family.name for family in EVERY_FAMILY)  # they have tables of their own


@dataclass(eq=False)
class Listening:
    """A session of onnxruntime that keeps what it was fed, so that the same can be run bare."""

    session: Any
    fed: list[dict[str, NDArray[np.float32]]] = field(default_factory=list)
    lines_s: float = 0.0  # processor time in which calipers were laid, last

    def get_outputs(self) -> Any:
        """As the session has them."""
        return self.session.get_outputs()

    def run(self, names: Any, feed: dict[str, NDArray[np.float32]]) -> Any:
        """Run, and keep the feed."""
        self.fed.append(feed)
        return self.session.run(names, feed)

    def laying(self, *given: Any) -> Any:
        """Lay calipers on the masks as the product does, and keep how long it took."""
        start = time.process_time()
        found = find_lines(*given)
        self.lines_s = time.process_time() - start
        return found

    def bare_s(self) -> float:
        """Return the processor time of onnxruntime alone on what was fed last, mean."""
        spent = []
        for _ in range(BARE_RUNS):
            start = time.process_time()
            self.session.run(None, self.fed[-1])
            spent.append(time.process_time() - start)
        return float(np.mean(spent))


@cache
def house() -> House:
    """Return the House as it ships."""
    return load_house()


@cache
def limits() -> RecognitionLimits:
    """Return its limits."""
    return read_recognition_limits(house())


@cache
def chambers() -> dict[str, ViewChambers]:
    """Return which chambers each view must show."""
    return read_chambers(house())


@cache
def _titles() -> dict[str, str]:
    return {key: view.title for key, view in read_views(house()).items()}


@contextmanager
def listening() -> Iterator[Listening]:
    """Let the product ask the shipped network through a session that is listened to."""
    shipped = shipped_network()
    heard = Listening(shipped.session)
    asked = PictureNetwork(session=heard, facts=shipped.facts)
    with (
        patch.object(clip_pass, "shipped_network", lambda: asked),
        patch.object(picture_reading, "find_lines", heard.laying),
    ):
        yield heard


def read_file(path: Path) -> ClipPass:
    """Read a file as a review does, without the criteria; times are processor times.

    Raises
    ------
    RuntimeError
        If the product refuses the file.
    """
    item, clip = one_clip(path, _LIMITS)
    read = clip_pass.read_clip(
        item, clip, clip.patient, house(), None, Known(families=NO_CRITERIA), _LIMITS,
        beat=lambda *_, **__: None, clock=time.process_time,
    )  # fmt: skip
    if not isinstance(read, ClipPass):
        raise RuntimeError(f"{path}: the engine refuses a file of the simulator: {read}")
    return read


def said_of(read: ClipPass) -> dict[str, Any]:
    """Return what the product says of a clip: likeliest views, and the view that it proposes."""
    proposed = with_proposal(read.view, read.picture, limits(), _titles(), chambers())
    return {
        "mode": read.mode.mode.value if read.mode.mode is not None else "",
        "not_asked": why_not_asked(read.mode, read.layout) or read.picture.reason,
        "said": [[share.view, round(share.probability, 4)] for share in read.picture.views],
        "proposed": proposed.view if proposed.source is ViewSource.RECOGNISED else "",
        "named": proposed.view if proposed.source is not ViewSource.RECOGNISED else "",
        "held_off": what_speaks_against(read.picture, limits(), chambers()) if read.picture.views else "",
        "unsure": round(read.picture.unsure_share, 4),
    }


def record_of(stored: Stored, heard: Listening) -> dict[str, Any]:
    """Return the record of a clip."""
    heard.fed.clear()
    read = read_file(stored.path)
    shot, animal = stored.shot, stored.shot.subject.animal
    was_asked = bool(heard.fed)
    return {
        "seed": shot.subject.seed, "kind": stored.kind, "view": shot.view, "heart": animal.heart.value,
        "species": animal.species.value, "weight_kg": round(animal.weight_kg, 2),
        "unit_mm": round(shot.subject.unit_mm, 2), "layout": stored.layout,
        "has_regions": stored.has_regions, "has_ecg": stored.has_ecg, "n_frames": read.frames.n,
        "shares": [round(float(share), 4) for share in true_shares(stored)],
        "fan": round(overlap(stored.screen.placed.sector, read.layout.picture, stored.screen.frames.shape[1:3]), 3),
        **said_of(read),
        "landmarks": landmarks_of(stored, read),
        "picture_s": round(dict(read.seconds).get("picture", 0.0), 4),
        "lines_s": round(heard.lines_s, 4),
        "bare_s": round(heard.bare_s(), 4) if was_asked else None,
    }  # fmt: skip


def true_shares(stored: Stored) -> NDArray[np.float64]:
    """Return what the clip should be called; none where lung and bone hide most of it, as in training."""
    hidden = np.mean([np.mean(structures_before(stored.shot, s) == Structure.HIDDEN) for s in stored.film.states[::6]])
    shares: NDArray[np.float64] = stored.shot.named.shares
    if hidden <= HIDDEN_NAMELESS:
        return shares
    return np.asarray(np.eye(len(shares))[-1])


def overlap(true: Sector, found: Picture | None, size: tuple[int, int]) -> float:
    """Return the share of pixels that lie in both fans of those that lie in either; 0 where none was found."""
    if not isinstance(found, Sector):
        return 0.0
    first, second = _covered(true, size), _covered(found, size)
    return float((first & second).sum() / max((first | second).sum(), 1))


def _covered(sector: Sector, size: tuple[int, int]) -> NDArray[np.bool_]:
    row, col = np.mgrid[0 : size[0] : 2, 0 : size[1] : 2].astype(np.float64)
    down, aside = row - sector.apex_row_px, (col - sector.apex_col_px) * sector.col_stretch
    radius, angle = np.hypot(down, aside), np.degrees(np.arctan2(aside, down))
    within = (radius >= sector.near_px) & (radius <= sector.far_px)
    return np.asarray(within & (angle >= sector.left_deg) & (angle <= sector.right_deg))


def landmarks_of(stored: Stored, read: ClipPass) -> list[list[float]]:
    """Return for each landmark found: number, probability, error in mm, off the plane in units, spread in mm.

    Points are compared in pixels of the stored frame, with the place and scale at which the screen was painted.
    """
    shot, placed = stored.shot, stored.screen.placed
    lines = stored.screen.placed.sector
    rows = []
    places = {
        frame: animal_landmarks(shot.subject.animal, stored.film.states[frame])
        for frame in {item.frame for item in read.picture.landmarks}
    }
    for item in read.picture.landmarks:
        mark = Landmark[item.landmark]
        true = places[item.frame][mark]
        across, off, deep = shot.setting.pose.to_probe(np.asarray(true))
        at = (
            lines.apex_row_px + lines.near_px + deep / placed.mm_per_px,
            lines.apex_col_px + across / placed.mm_per_px,
        )
        error_mm = float(np.hypot(item.point[0] - at[0], item.point[1] - at[1])) * placed.mm_per_px
        away = abs(float(off)) / shot.subject.unit_mm
        number = list(Landmark).index(mark)
        rows.append([number, item.probability, error_mm, away, item.spread_px * placed.mm_per_px])
    return [[round(value, 3) for value in row] for row in rows]


def photo_record(record: dict[str, Any], stored: Stored) -> dict[str, Any]:
    """Return what the product says of a photograph of the first frame of a clip, whose own record is given."""
    shot = stored.shot
    rng = np.random.default_rng([shot.subject.seed, 163, len(stored.path.name), int(1000 * shot.start_ms) % 9973])
    path = stored.path.with_suffix(".jpg")
    first = stored.screen.frames[0]
    way = cv2.COLOR_GRAY2BGR if first.ndim == 2 else cv2.COLOR_RGB2BGR
    path.write_bytes(photographed(rng, np.asarray(cv2.cvtColor(first, way), np.uint8)))
    return {**record, **said_of(read_file(path)), "kind": "photo", "was": stored.kind}


def long_record(stored: Stored, n_frames: int, heard: Listening) -> dict[str, Any]:
    """Return how long the picture takes in a clip of so many frames, the beats of a short one shown again and again."""
    data = dcmread(stored.path)
    there = list(generate_frames(data.PixelData, number_of_frames=int(data.NumberOfFrames)))
    data.PixelData = encapsulate([there[k % len(there)] for k in range(n_frames)])
    data.NumberOfFrames = n_frames
    if "FrameTimeVector" in data:
        step = float(np.diff(stored.film.times_ms).mean())
        data.FrameTimeVector = [0.0, *[round(step, 3)] * (n_frames - 1)]
    path = stored.path.with_name(f"long-{stored.path.name}")
    dcmwrite(path, data, enforce_file_format=True)
    heard.fed.clear()
    read = read_file(path)
    return {
        "seed": stored.shot.subject.seed, "kind": "long", "n_frames": read.frames.n, **said_of(read),
        "picture_s": round(dict(read.seconds).get("picture", 0.0), 4),
        "lines_s": round(heard.lines_s, 4),
        "bare_s": round(heard.bare_s(), 4) if heard.fed else None,
    }  # fmt: skip
