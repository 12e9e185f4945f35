"""M-mode strips from the apex through the ring of the tricuspid valve: how far it comes towards the apex. Pure."""

from fanlight.measure.ring_strip.tricuspid import RingReading, measure_ring

__all__ = ["RingReading", "measure_ring"]
