"""Where on the picture a strip was measured, and what a person's marks there give in its stead. Pure."""

from fanlight.measure.strip_lines.by_hand import TakenMark, marks_taken, numbers_of_marks
from fanlight.measure.strip_lines.on_picture import read_lines
from fanlight.measure.strip_lines.shown import Course, Place, StripLines

__all__ = ["Course", "Place", "StripLines", "TakenMark", "marks_taken", "numbers_of_marks", "read_lines"]
