"""Where one chamber opens into the next: the two ends of their contact, which are the hinges of the valve between."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull, QhullError

from fanlight.heart.calipers.region import mask_of
from fanlight.heart.tissue import Tissue

LEFT_VENTRICLE = frozenset(
    {
        Tissue.LV_CAVITY,
        Tissue.MITRAL_SEPTAL_LEAFLET,
        Tissue.MITRAL_PARIETAL_LEAFLET,
    }
)
AORTA = frozenset({Tissue.AORTA, Tissue.AORTIC_CUSP})


def find_orifice(
    tissue: NDArray[np.uint8], upstream: Iterable[Tissue], downstream: Iterable[Tissue]
) -> tuple[NDArray[np.float64], NDArray[np.float64]] | None:
    """Return the two ends (row, col) of the contact of two sets of tissues, screen left first; None without contact.

    The ends are the two places of contact that lie farthest apart. So the answer is the same with the valve open (the
    chambers' blood meets across the ring) and shut (the blood meets the leaflets on their other side).
    """
    second = mask_of(tissue, downstream)
    rows, cols = np.flatnonzero(second.any(axis=1)), np.flatnonzero(second.any(axis=0))
    if rows.size == 0:
        return None
    top, left = max(int(rows[0]) - 1, 0), max(int(cols[0]) - 1, 0)
    here = (slice(top, int(rows[-1]) + 2), slice(left, int(cols[-1]) + 2))
    first, second = mask_of(tissue[here], upstream), second[here]
    places = []
    for a, b in ((first, second), (second, first)):
        row, col = np.nonzero(a[:-1] & b[1:])
        places.append(np.stack([row + 0.5, col.astype(float)], axis=-1))
        row, col = np.nonzero(a[:, :-1] & b[:, 1:])
        places.append(np.stack([row.astype(float), col + 0.5], axis=-1))
    contact = np.concatenate(places) + np.array([top, left])
    if len(contact) < 3:
        return None
    try:
        corners = contact[ConvexHull(contact).vertices]
    except QhullError:  # all on one straight line
        corners = contact
    apart = np.hypot(*(corners[:, None, :] - corners[None, :, :]).transpose(2, 0, 1))
    i, j = np.unravel_index(int(apart.argmax()), apart.shape)
    ends = (corners[i], corners[j])
    return ends if ends[0][1] <= ends[1][1] else (ends[1], ends[0])
