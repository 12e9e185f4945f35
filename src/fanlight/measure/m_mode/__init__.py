"""A left-ventricular M-mode strip: its borders, its beats and the numbers that follow from them. Pure."""

from fanlight.measure.m_mode.border import Border
from fanlight.measure.m_mode.borders import Borders, find_borders
from fanlight.measure.m_mode.strip import MModeStrip
from fanlight.measure.m_mode.values import MModeReading, Seen, measure_m_mode

__all__ = ["Border", "Borders", "MModeReading", "MModeStrip", "Seen", "find_borders", "measure_m_mode"]
