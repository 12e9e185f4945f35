"""All criterion families of all modes, in the order in which findings are listed."""

from __future__ import annotations

from fanlight.critique.accumulator import Family
from fanlight.critique.doppler.families import DOPPLER_FAMILIES
from fanlight.critique.families import FAMILIES

EVERY_FAMILY: tuple[Family, ...] = (*FAMILIES, *DOPPLER_FAMILIES)
