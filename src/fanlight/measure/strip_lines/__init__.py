"""Where on the picture a strip was measured: its borders or envelopes, and the places of each number. Pure."""

from fanlight.measure.strip_lines.on_picture import read_lines
from fanlight.measure.strip_lines.shown import Course, Place, StripLines

__all__ = ["Course", "Place", "StripLines", "read_lines"]
