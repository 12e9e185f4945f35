"""Paint an ultrasound picture onto the screen of an invented console, and say what is true of that screen."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fanlight.simulate.ecg_strip import EcgStrip
from fanlight.simulate.screen_facts import ScreenFacts
from fanlight.simulate.screen_layout import Layout
from fanlight.simulate.screen_truth import Placed, Screen
from fanlight.study import Box


def place_sector(
    layout: Layout,
    *,
    left_deg: float,
    right_deg: float,
    face_radius_mm: float,
    depth_mm: float,
    as_guide: bool = False,
) -> Placed:
    """Return where this console draws a sector, as large as its field allows.

    Parameters
    ----------
    layout : Layout
        The console's screen.
    left_deg, right_deg : float
        Edges, degrees at the apex from straight down, positive to screen right.
    face_radius_mm : float
        Radius of the array's face: 0 for a phased array, some 10 to 60 mm for a curved one.
    depth_mm : float
        From the face to the deepest echo.
    as_guide : bool
        The small picture beside an M-mode.
    """
    raise NotImplementedError


def strip_box(layout: Layout) -> Box:
    """Return where this console draws the strip of an M-mode."""
    raise NotImplementedError


def paint(
    layout: Layout,
    picture: NDArray[np.uint8],
    placed: Placed,
    facts: ScreenFacts,
    *,
    times_ms: tuple[float, ...],
    ecg: EcgStrip | None = None,
    colour: bool = True,
    labelled: bool = False,
) -> Screen:
    """Return the whole screen of a 2-D still or clip.

    Parameters
    ----------
    picture : ndarray of shape (frame, row, col)
        Grey levels of the sector, as large as ``placed.box``; what lies outside the fan is not looked at.
    placed : Placed
        From `place_sector`.
    facts : ScreenFacts
        What the screen says.
    times_ms : tuple of float
        Of each frame, the first 0.
    ecg : EcgStrip or None
        None: no leads are on, nothing is drawn.
    colour : bool
        RGB frames, or the luma of the same.
    labelled : bool
        Whether the name of the view is painted.
    """
    raise NotImplementedError


def paint_m_mode(
    layout: Layout,
    guide: NDArray[np.uint8],
    placed: Placed,
    strip: NDArray[np.uint8],
    facts: ScreenFacts,
    *,
    cursor_deg: float,
    ms_per_px: float,
    times_ms: tuple[float, ...],
    ecg: EcgStrip | None = None,
    colour: bool = True,
    labelled: bool = False,
) -> Screen:
    """Return the screen of an M-mode: the guide with its cursor, the strip with its marks.

    Parameters
    ----------
    guide : ndarray of shape (frame, row, col) or (1, row, col)
        As large as ``placed.box`` (from `place_sector` with ``as_guide=True``); one frame stands still.
    strip : ndarray of shape (frame, row, col)
        As large as `strip_box`: face in row 0, deepest echo in the last row, time to the right.
    cursor_deg : float
        Beam of the cursor at the apex of the guide.
    ms_per_px : float
        Time from column to column of the strip.
    """
    raise NotImplementedError
