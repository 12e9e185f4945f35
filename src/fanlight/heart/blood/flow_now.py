"""What passes each opening at one moment."""

from __future__ import annotations

from dataclasses import dataclass

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


def flow_now(table: FlowTable, time_ms: float) -> FlowNow:
    """Return the table at a moment."""
    return FlowNow(
        mitral=table.at("mitral", time_ms),
        aortic=table.at("aortic", time_ms),
        tricuspid=table.at("tricuspid", time_ms),
        pulmonic=table.at("pulmonic", time_ms),
        pulmonary_veins=table.at("pulmonary_veins", time_ms),
        venae_cavae=table.at("venae_cavae", time_ms),
        mitral_jet=table.at("mitral_jet", time_ms),
        tricuspid_jet=table.at("tricuspid_jet", time_ms),
        mitral_leak_mm2=table.mitral_leak_mm2,
        tricuspid_leak_mm2=table.tricuspid_leak_mm2,
        subaortic_mm2=table.subaortic_mm2,
        pulmonic_mm2=table.pulmonic_mm2,
    )
