"""Every criterion family, in the order in which findings are listed."""

from __future__ import annotations

from fanlight.critique import gain, near_field, penetration, shadow, tgc, time
from fanlight.critique.accumulator import Family

FAMILIES: tuple[Family, ...] = (
    gain.FAMILY,
    near_field.FAMILY,
    tgc.FAMILY,
    penetration.FAMILY,
    shadow.FAMILY,
    time.FAMILY,
)
