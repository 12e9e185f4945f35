"""A passage as a moving picture: cut to the ultrasound picture, evidence drawn, animated WebP. Pure.

WebP needs no script to play, so the letter that holds it runs none; mail programs and phones show it in any page.
"""

from __future__ import annotations

import io
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from fanlight.report.annotate import draw_evidence
from fanlight.report.passage import Passage

_METHOD = 2  # of libwebp, 0 to 6 (tried by hand): a higher one saves little and takes much longer
_STILL_QUALITY = 90


@dataclass(frozen=True, slots=True, kw_only=True)
class Cutting:
    """How passages are cut out."""

    longest_px: int
    quality: int  # of WebP, 1 to 100


@dataclass(frozen=True, slots=True, kw_only=True)
class CutPassage:
    """A passage cut out: the cited frame with its marks named, and the moving picture of the same size."""

    still: bytes  # WebP
    moving: bytes  # animated WebP, plays for ever
    width_px: int
    height_px: int


class ExcerptError(ValueError):
    """A passage cannot be cut out; the message says why, for the letter."""


class PassageSource(Protocol):
    """Port: passages of reviewed clips, cut out."""

    def cut(self, passage: Passage, cutting: Cutting) -> CutPassage:
        """Return the passage.

        Raises
        ------
        ExcerptError
            When its frames cannot be had, or where the picture ends on the screen is not known.
        """
        ...


def need_picture(passage: Passage) -> None:
    """Raise ExcerptError where the picture's outline is not known: names on the screen could not be left out."""
    if passage.layout.picture is None:
        raise ExcerptError("where the picture ends on the screen is not known, so names on it could not be left out")


def encode_passage(
    frames: Iterable[tuple[int, NDArray[np.uint8]]], passage: Passage, cutting: Cutting
) -> CutPassage:  # fmt: skip
    """Return a passage as moving picture.

    Parameters
    ----------
    frames : iterable of (int, ndarray)
        Index and pixels, (row, col) or (row, col, 3), 8 bit; those not shown are passed over. Only what is cut out of
        them is held: at most 640 x 640 pixels a frame, for the two seconds or so that a passage lasts.
    passage : Passage
        Which frames, and for how long each.
    cutting : Cutting
        Size and quality.

    Raises
    ------
    ExcerptError
        When a frame that is shown did not come.
    """
    need_picture(passage)
    shown = frozenset(passage.frames)
    moving: list[Image.Image] = []
    still: Image.Image | None = None
    for index, pixels in frames:
        if index in shown:
            moving.append(_drawn(pixels, passage, index, cutting, has_labels=False))
        if index == passage.frame:
            still = _drawn(pixels, passage, index, cutting, has_labels=True)
    if still is None or len(moving) != len(passage.frames):
        raise ExcerptError("some of its frames cannot be decoded")
    bytes_of_still, bytes_of_moving = io.BytesIO(), io.BytesIO()
    still.save(bytes_of_still, "WEBP", quality=_STILL_QUALITY, method=_METHOD)
    moving[0].save(
        bytes_of_moving, "WEBP", save_all=True, append_images=moving[1:], duration=list(passage.durations_ms), loop=0,
        quality=cutting.quality, method=_METHOD,
    )  # fmt: skip
    return CutPassage(
        still=bytes_of_still.getvalue(), moving=bytes_of_moving.getvalue(), width_px=still.width, height_px=still.height
    )


def _drawn(
    pixels: NDArray[np.uint8], passage: Passage, index: int, cutting: Cutting, *, has_labels: bool
) -> Image.Image:
    drawn = draw_evidence(
        pixels, passage.layout, passage.evidence, index, longest_px=cutting.longest_px, has_labels=has_labels
    )
    return Image.fromarray(drawn)
