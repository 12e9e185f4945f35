"""What is written on the screen: text, place, numbers with a unit, and whether it may say who it is."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final, TypeVar

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.frames.letter_rows import find_letter_rows
from fanlight.frames.overlay import overlay_key, overlay_of, passing_overlay_of, picture_mask, stands_still
from fanlight.frames.quantities import parse_bare_number, parse_bare_unit, parse_quantities
from fanlight.frames.screen_words import ScreenWords, is_date_or_number, is_technical
from fanlight.frames.text_network import ScreenReaderMissingError, TextNetwork
from fanlight.study import Box, FrameChunk, House, Picture, Quantity, ScreenText

__all__ = [
    "VERSION",
    "ScreenReader",
    "ScreenReaderMissingError",
    "join_units",
    "overlay_key",
    "overlay_of",
    "passing_overlay_of",
    "read_clip",
    "settle_identity",
    "stands_still",
]

VERSION: Final = 3
_T = TypeVar("_T", bound=np.generic)

# Engineering judgement: below this the reading is as likely wrong as right, and a wrong "technical" costs privacy.
_SURE_ENOUGH: Final = 0.6
# A text counts as inside the picture only if nearly all of it is: one that straddles the edge is blanked whole.
_INSIDE_SHARE: Final = 0.95
# On the picture, speckle, the ends of calipers and a gate now and then read as a letter; a name or a note has at least
# this many.
_FEWEST_LETTERS_INSIDE: Final = 2
# Of the rows of the screen: what cannot be read and is thicker is no line of text but colour or tissue at rest.
# Words on real screens take two to four hundredths; engineering judgement.
_THICKEST_INSIDE: Final = 0.06
_MOSTLY_FOUND: Final = 0.5  # a row of letters counts as found when half of it lies in boxes of the network
# Overlays kept to compare with: the depths and modes of one study. Engineering judgement.
_REMEMBERED: Final = 6
_SAME_PLACE: Final = 0.8  # share of the joint area that two boxes of the same text cover
_SAME_GREY: Final = 16  # codec noise, engineering judgement


# Real screens hold up to thirty texts. Beyond this a picture is hostile or no screen; the rest counts as unreadable.
_MOST_READ: Final = 150


@dataclass(frozen=True, slots=True)
class _Reading:
    overlay: NDArray[np.uint8]
    texts: tuple[tuple[Box, str, float], ...]


class ScreenReader:
    """Reads overlays. A resource: build one for each process; what it remembers stays in memory only.

    Parameters
    ----------
    house : House
        Its table "screen_words" says what is technical.
    same_pixels_only : bool
        Remember a text only where box and pixels are the very same, so that a reading never hangs on what was read
        before; otherwise codec noise is passed over, as for the frames of one clip.

    Raises
    ------
    ScreenReaderMissingError
        If the packages or their models are not installed. Nothing is ever fetched.
    """

    def __init__(self, house: House, *, same_pixels_only: bool = False) -> None:
        self._same_pixels_only = same_pixels_only
        self._words = ScreenWords.of(house)
        self._network = TextNetwork()
        self._remembered: deque[_Reading] = deque(maxlen=_REMEMBERED)

    def read(
        self, overlay: NDArray[np.uint8], picture: Picture | None = None, *, has_stood_still: bool = False
    ) -> tuple[ScreenText, ...]:
        """Return every piece of text on the screen, from top to bottom.

        Parameters
        ----------
        overlay : ndarray of shape (row, col) or (row, col, 3)
            From `overlay_of`, or one frame.
        picture : Sector or Strip or None
            Where the ultrasound picture lies. Text on it is returned too, marked ``inside_picture``; a date, a
            time or a case number never is, wherever it stands: it belongs to the screen, not to the picture.
        has_stood_still : bool
            The overlay is what several frames of a moving picture have in common.

        Returns
        -------
        tuple of ScreenText
            Also what could not be read (text "" or low confidence), since it may be a name: outside the picture, and
            on the picture where it stands still.

        Notes
        -----
        A text that stood in the same place with the same pixels on one of the last overlays is not read again.
        """
        colour = np.array(overlay if overlay.ndim == 3 else np.repeat(overlay[..., None], 3, axis=2))  # a copy, kept
        rows, cols = colour.shape[:2]
        read: list[tuple[Box, str, float]] = []
        unread: list[tuple[Box, str, float]] = []
        to_read = _MOST_READ
        for box, is_sure in self._boxes(colour):
            reading = self._known(box, colour)
            if reading is None or self._same_pixels_only:  # else what is left unread hangs on what came before
                to_read -= 1
            if to_read < 0 and (reading is None or self._same_pixels_only):
                reading = (box, "", 0.0)
                unread.append(reading)
            elif reading is None:
                reading = (box, *self._network.read(_cut(colour, box)))
            if is_sure or reading[2] >= _SURE_ENOUGH:
                read.append(reading)
        remembered = [item for item in read if not (self._same_pixels_only and item in unread)]
        self._remembered.append(_Reading(colour, tuple(remembered)))
        texts = []
        for box, words, confidence in read:
            on_picture = picture_mask(picture, rows, cols, window=box)
            inside = float(on_picture.mean()) >= _INSIDE_SHARE and not is_date_or_number(words)
            may_be_line = has_stood_still and min(box.height_px, box.width_px) <= _THICKEST_INSIDE * rows
            if inside and (_is_no_word(words) if confidence >= _SURE_ENOUGH else not may_be_line):
                continue
            texts.append(
                ScreenText(
                    text=words.strip(),
                    box=box,
                    confidence=round(confidence, 3),
                    quantities=parse_quantities(words) if confidence >= _SURE_ENOUGH else (),
                    is_technical=confidence >= _SURE_ENOUGH and is_technical(words, self._words),
                    inside_picture=inside,
                )
            )
        return settle_identity(join_units(texts))

    def _boxes(self, colour: NDArray[np.uint8]) -> list[tuple[Box, bool]]:
        """Text that the network finds (True), and rows of small print that it misses (False: read to be sure)."""
        found = [(box, True) for box in self._network.find(colour)]
        rows, cols = colour.shape[:2]
        taken = np.zeros((rows, cols), np.bool_)
        for box, _ in found:
            _cut(taken, box)[:] = True
        grey = np.asarray(cv2.cvtColor(colour, cv2.COLOR_RGB2GRAY), np.uint8)
        for row in find_letter_rows(grey):
            if float(_cut(taken, row).mean()) >= _MOSTLY_FOUND:
                continue
            margin = max(2, row.height_px // 4)  # the networks want a little ground around the letters
            wider = Box(
                row0=row.row0 - margin, col0=row.col0 - margin, row1=row.row1 + margin, col1=row.col1 + margin
            ).clipped_to(rows, cols)
            if wider is not None:
                found.append((wider, False))
                _cut(taken, wider)[:] = True
        return sorted(found, key=lambda item: (item[0].row0, item[0].col0))

    def _known(self, box: Box, colour: NDArray[np.uint8]) -> tuple[Box, str, float] | None:
        """The reading of a text that has not changed since one of the last overlays."""
        for reading in reversed(self._remembered):
            if reading.overlay.shape != colour.shape:
                continue
            for old, words, confidence in reading.texts:
                if self._same_pixels_only:
                    # The network reads a cut by itself: the same cut gives the same words, so memory changes nothing.
                    if old == box and np.array_equal(_cut(reading.overlay, box), _cut(colour, box)):
                        return old, words, confidence
                    continue
                joint = old.overlap_px(box)
                if joint < _SAME_PLACE * (old.area_px + box.area_px - joint):
                    continue
                both = Box(
                    row0=min(old.row0, box.row0),
                    col0=min(old.col0, box.col0),
                    row1=max(old.row1, box.row1),
                    col1=max(old.col1, box.col1),
                )
                change = cv2.absdiff(_cut(reading.overlay, both), _cut(colour, both))
                if int(change.max()) < _SAME_GREY:
                    return old, words, confidence
        return None


def _is_no_word(words: str) -> bool:
    return sum(mark.isalnum() for mark in words) < _FEWEST_LETTERS_INSIDE


def _cut(array: NDArray[_T], box: Box) -> NDArray[_T]:
    return array[box.row0 : box.row1, box.col0 : box.col1]


def _gaps_px(one: Box, two: Box) -> tuple[int, int]:
    """Empty rows and columns between two boxes; negative where they overlap."""
    return (
        max(one.row0, two.row0) - min(one.row1, two.row1),
        max(one.col0, two.col0) - min(one.col1, two.col1),
    )


def read_clip(reader: ScreenReader, chunks: Iterable[FrameChunk], picture: Picture | None) -> tuple[ScreenText, ...]:
    """Return every text that is on the screen in any frame of a clip, for removing identity.

    Parameters
    ----------
    reader : ScreenReader
        Reads each distinct overlay once.
    chunks : iterable of FrameChunk
        All frames of the clip.
    picture : Sector or Strip or None
        Where the picture lies. None: the whole screen counts as outside.

    Returns
    -------
    tuple of ScreenText
        Texts of all chunks, each place once. Outside the picture also what came or went within a chunk; where texts
        lie over one another they cannot be read and count as possible identity. On the picture only what stands still
        for the length of a chunk is found.
    """
    seen: set[str] = set()
    texts: dict[tuple[str, Box], ScreenText] = {}
    for chunk in chunks:
        for overlay in (overlay_of(chunk.pixels), passing_overlay_of(chunk.pixels, picture)):
            if overlay is None or (key := overlay_key(overlay, picture)) in seen:
                continue
            seen.add(key)
            for item in reader.read(overlay, picture, has_stood_still=stands_still(chunk.pixels)):
                texts.setdefault((item.text, item.box), item)
    return tuple(sorted(texts.values(), key=lambda item: (item.box.row0, item.box.col0)))


def join_units(texts: Sequence[ScreenText]) -> tuple[ScreenText, ...]:
    """Give a unit that stands by itself to the bare number beside or above it, and to that number's opposite.

    A colour bar prints its limits as +59.3 and -59.3 with the unit once; the two ends are equal and opposite
    by the physics of sampling, which tells the pair.
    """
    given: dict[int, Quantity] = {}
    numbers = {
        index: value
        for index, item in enumerate(texts)
        if item.confidence >= _SURE_ENOUGH and (value := parse_bare_number(item.text)) is not None
    }
    for item in texts:
        unit = parse_bare_unit(item.text) if item.confidence >= _SURE_ENOUGH else None
        if unit is None:
            continue
        reach_px = 1.5 * item.box.height_px  # engineering judgement: the next line or the next word
        near = {
            index: gaps
            for index in numbers
            if max(gaps := _gaps_px(item.box, texts[index].box)) <= reach_px and min(gaps) < 0
        }
        if not near:
            continue
        chosen = min(near, key=lambda index: max(near[index]))
        given[chosen] = Quantity(value=numbers[chosen], unit=unit)
        for index, value in numbers.items():
            if value == -numbers[chosen] != 0 and _gaps_px(texts[index].box, texts[chosen].box)[1] < 0:
                given[index] = Quantity(value=value, unit=unit)
    return tuple(
        replace(item, quantities=(given[index],)) if index in given else item for index, item in enumerate(texts)
    )


def settle_identity(texts: Sequence[ScreenText]) -> tuple[ScreenText, ...]:
    """Take a bare number close beside a text that may be identity for a part of it (a split case number)."""
    doubtful = [item for item in texts if not item.is_technical and sum(mark.isalnum() for mark in item.text) > 1]
    settled = []
    for item in texts:
        if item.is_technical and not item.quantities and parse_bare_number(item.text) is not None:
            for other in doubtful:
                rows, cols = _gaps_px(item.box, other.box)
                height_px = min(item.box.height_px, other.box.height_px)
                # Engineering judgement: on one line, and nearer than two letters.
                if -rows >= height_px / 2 and cols <= 2 * height_px:
                    item = replace(item, is_technical=False)
                    break
        settled.append(item)
    return tuple(settled)
