"""Every criterion family, in the order in which findings are listed."""

from __future__ import annotations

from fanlight.critique import (
    depth_use,
    export,
    focus,
    gain,
    lung,
    near_field,
    penetration,
    sector_width,
    shadow,
    tgc,
    time,
)
from fanlight.critique.accumulator import Family

FAMILIES: tuple[Family, ...] = (
    gain.FAMILY,
    near_field.FAMILY,
    tgc.FAMILY,
    penetration.FAMILY,
    focus.FAMILY,
    depth_use.FAMILY,
    sector_width.FAMILY,
    shadow.FAMILY,
    lung.FAMILY,
    export.FAMILY,
    time.FAMILY,
)
