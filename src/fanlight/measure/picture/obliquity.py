"""What an oblique plane does to a number at most: geometry of tubes and of the left ventricle, no picture needed.

Formulas are plane geometry of a round tube and of a prolate ellipsoid; nothing here is measured.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from fanlight.measure.shapes import Pixel
from fanlight.study import Point


def tube_excess(tilt_deg: float) -> float:
    """Return by what share a length across a tube or wall reads too long in a plane tilted so far: 1/cos − 1.

    Raises
    ------
    ValueError
        If the tilt is not from 0 to below 90 degrees.

    Examples
    --------
    >>> round(tube_excess(30.0), 3)
    0.155
    """
    return 1 / math.cos(_tilt(tilt_deg)) - 1


def length_shortfall(tilt_deg: float, length_to_width: float) -> float:
    """Return by what share the ventricle's length reads too short in a plane tilted so far off its axis.

    1 − 1/√(cos²φ + k² sin²φ) of an ellipsoid k times as long as wide.

    Examples
    --------
    >>> [round(1 - length_shortfall(tilt, 1.65), 3) for tilt in (10.0, 20.0, 30.0)]
    [0.975, 0.912, 0.836]
    """
    tilt = _tilt(tilt_deg)
    return 1 - 1 / math.hypot(math.cos(tilt), length_to_width * math.sin(tilt))


def width_shortfall(off_centre: float) -> float:
    """Return by what share a diameter reads too small in a plane beside the axis, by a share of the radius.

    Examples
    --------
    >>> [round(1 - width_shortfall(share), 2) for share in (0.2, 0.3, 0.4, 0.5)]
    [0.98, 0.95, 0.92, 0.87]
    """
    if not 0 <= off_centre < 1:
        raise ValueError(f"the plane must pass within the radius, 0 to below 1 of it, got {off_centre}")
    return 1 - math.sqrt(1 - off_centre**2)


def tilt_of_tube_deg(smaller_to_larger: float) -> float:
    """Return how far a plane is tilted that cuts a tube with these axes of the section, degrees.

    Examples
    --------
    >>> round(tilt_of_tube_deg(0.866), 1)
    30.0
    """
    if not 0 < smaller_to_larger <= 1:
        raise ValueError(f"the smaller over the larger axis must lie above 0 and up to 1, got {smaller_to_larger}")
    return math.degrees(math.acos(smaller_to_larger))


def drawn_out(corners: Sequence[Point], pixel: Pixel) -> float:
    """Return how round a section is by three points that stand evenly around it: smaller over larger axis.

    The plane draws an even triangle out as it draws out the circle around it: the singular values of the map from the
    even triangle to the one that is seen are the half axes of the section.

    Parameters
    ----------
    corners : sequence of three (row, col)
        For the aortic root the ends of the commissures.
    pixel : Pixel
    """
    seen = np.array([(row * pixel.down, col * pixel.across) for row, col in corners])
    even = np.array([(math.cos(angle), math.sin(angle)) for angle in np.radians([0.0, 120.0, 240.0])])
    edges, even_edges = seen[1:] - seen[0], even[1:] - even[0]
    sizes = np.linalg.svd(np.linalg.solve(even_edges, edges), compute_uv=False)
    return float(sizes[1] / sizes[0]) if sizes[0] > 0 else 0.0


def _tilt(tilt_deg: float) -> float:
    if not 0 <= tilt_deg < 90:
        raise ValueError(f"a tilt must be 0 to below 90 degrees, got {tilt_deg}")
    return math.radians(tilt_deg)
