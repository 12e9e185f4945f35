"""What stands where on the screen of one clip, and how large a pixel is: everything brought together."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fanlight.frames.colour_box import find_colour_box
from fanlight.frames.ecg import is_line_of_words
from fanlight.frames.ecg_line import EcgLine, find_line
from fanlight.frames.find_picture import find_picture_on
from fanlight.frames.painted import Screen, look_at_pixels
from fanlight.frames.regions import check_regions
from fanlight.frames.ruler import find_ruler
from fanlight.frames.scale import Marks, settle_scale, written_depth_mm
from fanlight.study import Clip, Layout, Picture, ScreenText

VERSION = 3  # raise it when the layout of the same pixels can come out otherwise: kept results are then made anew

FoundPicture = tuple[Picture | None, float, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstSeen:
    """What is seen in the first frames of a clip before a word is read; several stages ask, none looks twice."""

    screen: Screen
    found: FoundPicture
    line: EcgLine | None  # what looks like the trace of an ECG


def see_first(clip: Clip, pixels: NDArray[np.uint8], found: FoundPicture | None = None) -> FirstSeen:
    """Look at the first frames, (frame, row, col) or (frame, row, col, 3); `found` as for `read_layout`."""
    screen = look_at_pixels(pixels)
    found = find_picture_on(screen, clip.regions) if found is None else found
    return FirstSeen(screen=screen, found=found, line=find_line(pixels, found[0]))


def read_layout(
    clip: Clip,
    pixels: NDArray[np.uint8],
    texts: tuple[ScreenText, ...] = (),
    marks: Marks | None = None,
    found: FoundPicture | None = None,
    seen: FirstSeen | None = None,
) -> Layout:
    """Read the screen of one clip from its first frames.

    Parameters
    ----------
    clip : Clip
        For the regions of the file.
    pixels : ndarray of shape (frame, row, col) or (frame, row, col, 3)
        The first frames.
    texts : tuple of ScreenText
        What was read on the screen.
    marks : (point, point, distance_mm) or None
        Two points that the user marked.
    found : result of ``find_picture`` or None
        Where it is known already; else it is found here.
    seen : result of ``see_first`` or None
        Of these frames, where they were looked at already; else this is done here.

    Returns
    -------
    Layout
    """
    rows, cols = pixels.shape[1:3]
    seen = see_first(clip, pixels, found) if seen is None else seen
    picture, confidence, reason = seen.found
    checks = check_regions(clip.regions, rows, cols, picture, confidence)
    # A picture that was cut at the lower rim, or whose end nothing shows, is not as deep as the text says.
    depth_is_seen = picture is not None and picture.point(1.0, 0.5)[0] <= rows - 0.5 and confidence >= 0.5
    depth_mm = written_depth_mm(texts)[0] if depth_is_seen else None
    ruler = None if picture is None else find_ruler(seen.screen, picture, texts, depth_mm)
    scale, scale_reason = settle_scale(checks, ruler, texts, picture, marks, depth_is_seen)
    ecg_box = None if seen.line is None else seen.line.box
    if ecg_box is not None and is_line_of_words(ecg_box, texts):
        ecg_box = None
    return Layout(
        rows=rows,
        cols=cols,
        picture=picture,
        picture_confidence=confidence,
        picture_reason=reason,
        scale=scale,
        scale_reason=scale_reason,
        regions=tuple(check.reading for check in checks),
        texts=texts,
        ruler=ruler,
        ecg_box=ecg_box,
        colour_box=None if picture is None else find_colour_box(pixels, picture),
    )
