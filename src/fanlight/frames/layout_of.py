"""What stands where on the screen of one clip, and how large a pixel is: everything brought together."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fanlight.frames.colour_box import find_colour_box
from fanlight.frames.ecg import find_ecg, is_line_of_words
from fanlight.frames.find_picture import find_picture
from fanlight.frames.painted import look_at
from fanlight.frames.polar import to_grey
from fanlight.frames.regions import check_regions
from fanlight.frames.ruler import find_ruler
from fanlight.frames.scale import Marks, settle_scale, written_depth_mm
from fanlight.study import Clip, Layout, Picture, ScreenText

VERSION = 3  # raise it when the layout of the same pixels can come out otherwise: kept results are then made anew

FoundPicture = tuple[Picture | None, float, str]


def read_layout(
    clip: Clip,
    pixels: NDArray[np.uint8],
    texts: tuple[ScreenText, ...] = (),
    marks: Marks | None = None,
    found: FoundPicture | None = None,
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

    Returns
    -------
    Layout
    """
    grey = to_grey(pixels)
    rows, cols = grey.shape[1:]
    picture, confidence, reason = find_picture(grey, clip.regions) if found is None else found
    checks = check_regions(clip.regions, rows, cols, picture, confidence)
    # A picture that was cut at the lower rim, or whose end nothing shows, is not as deep as the text says.
    depth_is_seen = picture is not None and picture.point(1.0, 0.5)[0] <= rows - 0.5 and confidence >= 0.5
    depth_mm = written_depth_mm(texts)[0] if depth_is_seen else None
    ruler = None if picture is None else find_ruler(look_at(grey), picture, texts, depth_mm)
    scale, scale_reason = settle_scale(checks, ruler, texts, picture, marks, depth_is_seen)
    ecg_box = find_ecg(pixels, picture)
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
