"""Where the strip lies on a picture whose file tells nothing: the largest painted block."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.study import Box

_PAINTED_LEVEL = 10  # of 255: black paper and its compression lie below
_LEAST_SHARE = 0.02  # of a row or column: fewer bright pixels are a tick or a rim
_LONGEST_GAP_SHARE = 0.02  # of the picture's side: a strip is black for no longer, words stand farther off
_LEAST_PX = 32  # of a side; less is no strip


def painted_box(frame: NDArray[np.uint8], within: Box | None = None) -> Box | str:
    """Return the largest upright block of a picture that is painted throughout, or why there is none.

    Parameters
    ----------
    frame : ndarray of shape (row, col) or (row, col, 3)
        The picture.
    within : Box or None
        Where to look.

    Notes
    -----
    Blood is black and walls move: a row of a strip is bright in some columns, a column in some rows. Words, ticks and
    the trace of an ECG stand apart from it by a black margin.
    """
    grey = frame if frame.ndim == 2 else cv2.cvtColor(frame, cv2.COLOR_RGB2GRAY)
    room = within or Box(row0=0, col0=0, row1=grey.shape[0], col1=grey.shape[1])
    bright = grey[room.row0 : room.row1, room.col0 : room.col1] >= _PAINTED_LEVEL
    cols = _longest_run(bright.mean(axis=0) >= _LEAST_SHARE)
    rows = _longest_run(bright[:, slice(*cols)].mean(axis=1) >= _LEAST_SHARE) if cols[1] > cols[0] else (0, 0)
    # Beside the rows of the strip words or a ruler may have joined its columns to others.
    cols = _longest_run(bright[slice(*rows)].mean(axis=0) >= _LEAST_SHARE) if rows[1] > rows[0] else (0, 0)
    if min(rows[1] - rows[0], cols[1] - cols[0]) < _LEAST_PX:
        return "no strip is seen on the picture"
    return Box(row0=room.row0 + rows[0], col0=room.col0 + cols[0], row1=room.row0 + rows[1], col1=room.col0 + cols[1])


def _longest_run(painted: NDArray[np.bool_]) -> tuple[int, int]:
    """Return the first and the one after the last of the longest painted run, in which short gaps do not count."""
    at = np.flatnonzero(painted)
    if not len(at):
        return 0, 0
    cuts = np.flatnonzero(np.diff(at) > max(_LONGEST_GAP_SHARE * len(painted), 2))
    starts, ends = np.append(at[0], at[cuts + 1]), np.append(at[cuts], at[-1]) + 1
    longest = int((ends - starts).argmax())
    return int(starts[longest]), int(ends[longest])
