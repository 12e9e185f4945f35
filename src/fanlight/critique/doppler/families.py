"""Criterion families of Doppler clips, in the order in which findings are listed."""

from __future__ import annotations

from fanlight.critique.accumulator import Family
from fanlight.critique.doppler import (
    colour_area,
    colour_noise,
    colour_rate,
    colour_scale,
    colour_split,
    colour_tissue,
    spectrum_use,
)

DOPPLER_FAMILIES: tuple[Family, ...] = (
    colour_area.FAMILY,
    colour_split.FAMILY,
    colour_rate.FAMILY,
    colour_scale.FAMILY,
    colour_noise.FAMILY,
    colour_tissue.FAMILY,
    spectrum_use.FAMILY,
)
