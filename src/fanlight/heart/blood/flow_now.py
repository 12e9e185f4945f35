"""What passes each opening at one moment."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np

from fanlight.heart.blood.flow_rates import FlowTable


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowNow:
    """Flow (mm³/s), jets (mm/s) and orifices (mm²) at one moment; see `flow_rates.FlowTable`."""

    mitral: float
    aortic: float
    tricuspid: float
    pulmonic: float
    pulmonary_veins: float
    venae_cavae: float
    mitral_jet: float
    tricuspid_jet: float
    mitral_leak_mm2: float
    tricuspid_leak_mm2: float
    subaortic_mm2: float
    pulmonic_mm2: float


# What passes changes from moment to moment; areas stay.
LASTING = tuple(item.name for item in fields(FlowNow) if item.name.endswith("_mm2"))
CHANGING = tuple(item.name for item in fields(FlowNow) if item.name not in LASTING)


def flow_now(table: FlowTable, time_ms: float) -> FlowNow:
    """Return the table at a moment."""
    return flows_at(table, [time_ms])[0]


def flows_at(table: FlowTable, times_ms: Sequence[float]) -> list[FlowNow]:
    """Return the table at some moments, between its times by a straight line: many take little longer than one."""
    passing = [np.interp(times_ms, table.times_ms, getattr(table, name)).tolist() for name in CHANGING]
    areas = {name: getattr(table, name) for name in LASTING}
    return [FlowNow(**dict(zip(CHANGING, now, strict=True)), **areas) for now in zip(*passing, strict=True)]
