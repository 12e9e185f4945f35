"""The lines of any strip, cut out and read as it is measured, and laid on the picture that it was cut from."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.measure.doppler.read import read_spectrum
from fanlight.measure.from_strip import PlacedStrip, StripCase, place_m_mode, place_spectrum
from fanlight.measure.m_mode import MModeStrip, Seen, measure_m_mode
from fanlight.measure.ring_strip import measure_ring
from fanlight.measure.root_strip import measure_root
from fanlight.measure.strip_lines.m_mode import OnPicture, mitral_lines, ventricle_lines
from fanlight.measure.strip_lines.ring import ring_lines
from fanlight.measure.strip_lines.root import root_lines
from fanlight.measure.strip_lines.shown import StripLines
from fanlight.measure.strip_lines.spectrum import spectrum_lines
from fanlight.measure.strip_part import StripPart
from fanlight.measure.valve_strip import measure_mitral
from fanlight.reference.m_mode import read_m_mode_settings
from fanlight.study import SPECTRA, Box, House, Mode


def read_lines(case: StripCase, house: House) -> StripLines:
    """Return where on its picture a strip was measured, or why nothing was.

    Parameters
    ----------
    case : StripCase
        As it is measured by `measure_strip`: the numbers are the same.
    house : House

    Raises
    ------
    ValueError
        If the mode has no strip.
    """
    if case.mode is Mode.M_MODE:
        return _m_mode(case, house)
    if case.mode in SPECTRA:
        return _spectrum(case, house)
    raise ValueError(f"a clip of mode {case.mode} has no strip to measure")


def _m_mode(case: StripCase, house: House) -> StripLines:
    placed = place_m_mode(case, house)
    if isinstance(placed, str):
        return StripLines(frame=case.frame, reason=placed)
    to, seen = OnPicture(placed.strip, *_origin(case.pixels, placed)), Seen(frame=case.frame)
    if placed.part is StripPart.LEFT_VENTRICLE:
        reading = measure_m_mode(placed.strip, read_m_mode_settings(house), seen)
        return ventricle_lines(reading, to, case.frame, house)
    if placed.part is StripPart.MITRAL_LEAFLETS:
        return mitral_lines(measure_mitral(placed.strip, seen), to, case.frame, house)
    if placed.part is StripPart.TRICUSPID_RING:
        return ring_lines(measure_ring(placed.strip, seen), to, case.frame, house)
    return root_lines(measure_root(placed.strip, seen), to, case.frame, house)


def _spectrum(case: StripCase, house: House) -> StripLines:
    placed = place_spectrum(case, house)
    read = placed if isinstance(placed, str) else read_spectrum(placed.case)
    return (
        StripLines(frame=case.frame, reason=read) if isinstance(read, str) else spectrum_lines(read, case.frame, house)
    )


def _origin(pixels: NDArray[np.uint8], placed: PlacedStrip) -> tuple[int, int]:
    """Return row and column of the picture at which the cut strip begins.

    What lies beside a coloured ECG or a sweep's gap was left out of it: the strip begins where its levels stand.
    """
    box: Box = placed.place.box
    grey = pixels if pixels.ndim == 2 else cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY)
    inside = grey[box.row0 : box.row1, box.col0 : box.col1]
    n_rows, n_cols = placed.strip.levels.shape
    for row in dict.fromkeys((0, inside.shape[0] - n_rows)):  # cut at its foot, or at its top
        part = inside[row : row + n_rows]
        for col in range(inside.shape[1] - n_cols + 1):
            if _is_at(part, placed.strip, col):
                return box.row0 + row, box.col0 + col
    raise AssertionError("a strip was cut that does not stand on its picture")


def _is_at(part: NDArray[np.uint8], strip: MModeStrip, col: int) -> bool:
    """Return whether the strip begins at a column; its first column tells most places apart at once."""
    same_start = np.array_equal(part[:, col], strip.levels[:, 0])
    return same_start and np.array_equal(part[:, col : col + strip.levels.shape[1]], strip.levels)
