"""M-mode strips through valves: the mitral leaflets from the right, the tricuspid annulus from the apex. Pure."""

from fanlight.measure.valve_strip.mitral import MitralReading, measure_mitral

__all__ = ["MitralReading", "measure_mitral"]
