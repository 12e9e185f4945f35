"""All criterion families of all modes, in the order in which findings are listed."""

from __future__ import annotations

from fanlight.critique import time
from fanlight.critique.accumulator import Family
from fanlight.critique.colour_masks import FAMILY as COLOUR_MASKS
from fanlight.critique.doppler.confidence import as_sure_as_measured
from fanlight.critique.doppler.families import DOPPLER_FAMILIES
from fanlight.critique.families import FAMILIES
from fanlight.critique.guide_stands import without_still_guides
from fanlight.critique.picture_masks import FAMILY as PICTURE_MASKS

EVERY_FAMILY: tuple[Family, ...] = (
    *(without_still_guides(family) if family is time.FAMILY else family for family in FAMILIES),
    PICTURE_MASKS,
    COLOUR_MASKS,
    *(as_sure_as_measured(family) for family in DOPPLER_FAMILIES),
)
