"""Colour clips: what is proposed when the network is asked about the grey picture round and under the colour."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.frames.polar import to_grey
from fanlight.intake import Limits, open_frames
from fanlight.recognise.beat_frames import BeatFrames
from fanlight.recognise.picture_network import shipped_network
from fanlight.recognise.picture_reading import read_picture
from fanlight.review.clip_pass import ClipPass
from fanlight.simulate.clip.clip_setting import Recording
from fanlight.simulate.clip.doppler_setting import DopplerClip, sought_at
from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.steady.steady_doppler import steady_doppler
from fanlight.study import Mode, PictureChunk, Sector
from measure._criterion_clips import MOST_COVERED, covered_fraction, good_setting
from measure._doppler_bench import BEATS, PLACES, Bench, Rung, Wanted, draw_bench
from measure._doppler_clips import Camera, ClipTruth
from measure._one_clip import one_clip
from measure._recognition_file_answers import read_file

CLIPS = 2  # of each subject
COLOURED = 24  # difference of the channels of one pixel from which on it is colour, JPEG's noise aside (judgement)
FILL_PX = 9.0  # of the blur that fills it from the grey around (engineering judgement)
CHUNK = 32


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StoredColour:
    """A colour clip in its file."""

    path: Path
    truth: ClipTruth
    unit_mm: float


def store_colour(seed: int, ring: Ring, folder: Path) -> Iterator[StoredColour]:
    """Write colour clips of a subject by a steady hand, one a view, until there are enough."""
    bench = draw_bench(seed, ring)
    places = PLACES[Mode.COLOUR]
    found = 0
    for k in range(len(places)):
        view, valve = places[(seed + k * 5) % len(places)]
        rung = _rung(bench, k, view, valve)
        if rung is None:
            continue
        wanted = Wanted(rung=rung, clip=rung.steady, fault=None)
        truth = Camera(bench, rung).store(wanted, folder)
        yield StoredColour(
            path=folder / truth.file, truth=truth, unit_mm=bench.subject.animal.anatomy.sizes.unit_mm
        )  # fmt: skip
        found += 1
        if found == CLIPS:
            return


def _rung(bench: Bench, index: int, view: str, valve: Any) -> Rung | None:
    """Return colour over a view as a steady hand has it; None where lung or ribs cover the view, or it is not met."""
    setting = replace(good_setting(bench.subject, view), recording=Recording(beats=BEATS))
    if covered_fraction(bench.subject.animal, setting, 0.0) > MOST_COVERED:
        return None
    sought = sought_at(bench.circulation, valve, Mode.COLOUR)
    try:
        doppler = steady_doppler(bench.flow, setting, valve, Mode.COLOUR, sought)
    except ValueError:
        return None  # not in this picture
    return Rung(bench=bench, index=index, view=view, steady=DopplerClip(clip=setting, doppler=doppler), peak=None)


def filled_grey(pixels: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return grey of frames (frame, row, col, 3); what is coloured is filled from the grey around it."""
    grey = to_grey(pixels)
    out = grey.copy()
    for index, frame in enumerate(pixels):
        coloured = (frame.max(-1).astype(np.int16) - frame.min(-1)) > COLOURED
        coloured = cv2.dilate(coloured.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
        known = (~coloured).astype(np.float32)
        weight = cv2.GaussianBlur(known, (0, 0), FILL_PX) + 1e-4
        around = cv2.GaussianBlur(grey[index] * known, (0, 0), FILL_PX) / weight
        out[index][coloured] = np.clip(around, 0, 255).astype(np.uint8)[coloured]
    return out


HOW: dict[str, Callable[[NDArray[np.uint8]], NDArray[np.uint8]]] = {"luma": to_grey, "filled": filled_grey}


def asked_with(path: Path, read: ClipPass, grey_of: Callable[[NDArray[np.uint8]], NDArray[np.uint8]]) -> list[Any]:
    """Return the likeliest views of a clip whose grey is made in this way; [] where no fan was found."""
    picture = read.layout.picture
    if not isinstance(picture, Sector):
        return []
    item, clip = one_clip(path, Limits())
    kept = BeatFrames(picture)
    with open_frames(item, clip, Limits()) as frames:
        for chunk in frames.chunks(CHUNK):
            grey = grey_of(chunk.pixels)
            kept.add(PictureChunk(first=chunk.first, pixels=chunk.pixels, grey=grey, beams=None))
    reading = read_picture(shipped_network(), kept, picture, read.time)
    return [[share.view, round(share.probability, 4)] for share in reading.views]


def colour_record(stored: StoredColour) -> dict[str, Any]:
    """Return the record of a colour clip."""
    read = read_file(stored.path)
    truth = stored.truth
    return {
        "seed": truth.seed, "kind": "colour", "view": truth.view, "heart": truth.heart, "species": truth.species,
        "mode": read.mode.mode.value if read.mode.mode is not None else "",
        **{how: asked_with(stored.path, read, grey_of) for how, grey_of in HOW.items()},
    }  # fmt: skip
