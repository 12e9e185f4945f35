"""From velocity to colour: maps of our own, each a few anchor colours in a perceptual space.

Red for flow towards the probe and blue for flow away is the convention of the trade; hues, steps and names are ours.
Between anchors a map runs straight in Oklab, so that lightness grows evenly and no step shows where there is none.

References
----------
.. [Oklab2020] B. Ottosson, "A perceptual color space for image processing", 2020 (public domain matrices).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

N_VELOCITIES = 256  # steps from the lowest to the highest velocity
N_VARIANCES = 16  # steps of the tint
# The tint begins where laminar flow ends and is whole where a packet has hardly a mean velocity left; even then it
# leaves a part of the direction's colour (engineering judgement, by eye).
_TINT_FROM, _TINT_TO, _TINT_MOST = 0.2, 0.9, 0.7
# Slow flow has no tint: what the wall filter leaves of it looks scattered, whatever it was. Whole from this share of
# the scale on (engineering judgement).
_TINT_SPEED = 0.4

# Linear sRGB to cone answers, and these to Oklab [Oklab2020].
_TO_CONES = np.array(
    [[0.4122214708, 0.5363325363, 0.0514459929], [0.2119034982, 0.6806995451, 0.1073969566],
     [0.0883024619, 0.2817188376, 0.6299787005]]
)  # fmt: skip
_TO_LAB = np.array(
    [[0.2104542553, 0.7936177850, -0.0040720468], [1.9779984951, -2.4285922050, 0.4505937099],
     [0.0259040371, 0.7827717662, -0.8086757660]]
)  # fmt: skip

Colour = tuple[float, float, float]  # lightness 0 to 1, chroma, hue in degrees (Oklab, polar)


@dataclass(frozen=True, slots=True, kw_only=True)
class ColourMap:
    """Anchors from standing (0) to the end of the scale (1), for either direction, and the tint of scattered flow."""

    towards: tuple[tuple[float, Colour], ...]
    away: tuple[tuple[float, Colour], ...]
    scattered: Colour | None = None  # towards which colour runs as the variance rises; None: the map shows none


# Red lies near hue 29, yellow 110, green 142, cyan 195, blue 264 in Oklab.
COLOUR_MAPS: dict[str, ColourMap] = {
    "ember": ColourMap(
        towards=((0.0, (0.16, 0.06, 25)), (0.35, (0.48, 0.19, 28)), (0.7, (0.68, 0.20, 45)), (1.0, (0.92, 0.14, 95))),
        away=((0.0, (0.16, 0.06, 268)), (0.35, (0.42, 0.22, 265)), (0.7, (0.62, 0.17, 245)), (1.0, (0.90, 0.10, 205))),
    ),
    "ember scattered": ColourMap(
        towards=((0.0, (0.16, 0.06, 25)), (0.35, (0.48, 0.19, 28)), (0.7, (0.66, 0.20, 43)), (1.0, (0.88, 0.16, 88))),
        away=((0.0, (0.16, 0.06, 268)), (0.35, (0.42, 0.22, 265)), (0.7, (0.60, 0.17, 248)), (1.0, (0.86, 0.11, 215))),
        scattered=(0.80, 0.22, 142),
    ),
    "brick": ColourMap(
        towards=((0.0, (0.12, 0.04, 22)), (0.4, (0.46, 0.18, 25)), (1.0, (0.68, 0.23, 25))),
        away=((0.0, (0.12, 0.04, 275)), (0.4, (0.42, 0.20, 265)), (1.0, (0.66, 0.17, 252))),
    ),
}


def _to_lab(colour: Colour) -> NDArray[np.float64]:
    lightness, chroma, hue = colour
    return np.array([lightness, chroma * math.cos(math.radians(hue)), chroma * math.sin(math.radians(hue))])


def _to_rgb(lab: NDArray[np.float64]) -> NDArray[np.uint8]:
    """Return sRGB bytes (..., 3) of Oklab colours; what no screen shows is cut off."""
    linear = (lab @ np.linalg.inv(_TO_LAB).T) ** 3 @ np.linalg.inv(_TO_CONES).T
    linear = np.clip(linear, 0.0, 1.0)
    curved = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)  # IEC 61966-2-1
    return np.asarray(np.floor(curved * 255 + 0.5), np.uint8)


def _ramp(anchors: tuple[tuple[float, Colour], ...], at: NDArray[np.float64]) -> NDArray[np.float64]:
    places = [place for place, _ in anchors]
    labs = np.stack([_to_lab(colour) for _, colour in anchors])
    return np.stack([np.interp(at, places, labs[:, k]) for k in range(3)], axis=-1)


@lru_cache(maxsize=32)
def colour_table(map_key: str, baseline_shift_fraction: float = 0.0, is_inverted: bool = False) -> NDArray[np.uint8]:
    """Return RGB of shape (variance, velocity, 3), the lowest velocity first.

    Velocity runs over the shown range, 2 · scale wide; the colours stretch to its ends. The first row has no variance,
    the last has variance 1; a map without a tint has the same colours in all rows.

    Parameters
    ----------
    map_key : str
        Of `COLOUR_MAPS`.
    baseline_shift_fraction : float
        As in `ColourSetting`.
    is_inverted : bool
        Whether both directions change their colours.
    """
    chosen = COLOUR_MAPS[map_key]
    towards, away = (chosen.away, chosen.towards) if is_inverted else (chosen.towards, chosen.away)
    share = (np.arange(N_VELOCITIES) + 0.5) / N_VELOCITIES * 2 - 1 + baseline_shift_fraction  # of the scale
    up, down = 1 + baseline_shift_fraction, 1 - baseline_shift_fraction
    lab = np.where((share >= 0)[:, None], _ramp(towards, np.abs(share) / up), _ramp(away, np.abs(share) / down))
    if chosen.scattered is None:
        table = np.broadcast_to(_to_rgb(lab), (N_VARIANCES, N_VELOCITIES, 3))
    else:
        variance = np.arange(N_VARIANCES)[:, None, None] / (N_VARIANCES - 1)
        tint = _TINT_MOST * np.clip((variance - _TINT_FROM) / (_TINT_TO - _TINT_FROM), 0.0, 1.0)
        tint = tint * np.clip(np.abs(share) / _TINT_SPEED, 0.0, 1.0)[None, :, None]
        table = _to_rgb(lab + tint * (_to_lab(chosen.scattered) - lab))
    table = np.ascontiguousarray(table)
    table.setflags(write=False)
    return table
