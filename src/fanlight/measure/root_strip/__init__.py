"""M-mode strips from the right through the root of the aorta and the left atrium behind it. Pure."""

from fanlight.measure.root_strip.root import RootReading, measure_root

__all__ = ["RootReading", "measure_root"]
