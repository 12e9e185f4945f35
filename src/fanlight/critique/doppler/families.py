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
    spectrum_aim,
    spectrum_edge,
    spectrum_timing,
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
    spectrum_edge.FAMILY,
    spectrum_aim.FAMILY,
    spectrum_timing.FAMILY,
)

# Families that go by view, valve or marks: these are read again when somebody says otherwise.
READ_WHAT_IS_TOLD = frozenset({spectrum_use.FAMILY.name, spectrum_aim.FAMILY.name, spectrum_timing.FAMILY.name})

# Families of spectra: these are read again when somebody marks its axes.
READ_AXES = READ_WHAT_IS_TOLD | {spectrum_edge.FAMILY.name}
