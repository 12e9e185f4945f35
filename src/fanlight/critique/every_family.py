"""All criterion families of all modes, in the order in which findings are listed."""

from __future__ import annotations

from fanlight.critique.accumulator import Family
from fanlight.critique.doppler.confidence import as_sure_as_measured
from fanlight.critique.doppler.families import DOPPLER_FAMILIES
from fanlight.critique.families import FAMILIES

EVERY_FAMILY: tuple[Family, ...] = (*FAMILIES, *(as_sure_as_measured(family) for family in DOPPLER_FAMILIES))
