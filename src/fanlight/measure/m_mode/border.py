"""The borders that a beam crosses on its way through the ventricles, in order of depth."""

from __future__ import annotations

from enum import IntEnum


class Border(IntEnum):
    """Place of each border in arrays of borders."""

    RIGHT_WALL_END = 0  # right ventricular wall to right ventricular cavity
    SEPTUM_START = 1  # right ventricular cavity to septum
    SEPTUM_END = 2  # septum to left ventricular cavity
    ENDOCARDIUM = 3  # left ventricular cavity to free wall
    EPICARDIUM = 4  # free wall to pericardium, or to fluid

    @property
    def words(self) -> str:
        """Return what it is called on the page."""
        return _WORDS[self]

    @property
    def enters_wall(self) -> bool:
        """Return whether the beam comes from blood and goes into wall."""
        return self in (Border.SEPTUM_START, Border.ENDOCARDIUM)


_WORDS = {
    Border.RIGHT_WALL_END: "inner side of the right ventricular wall",
    Border.SEPTUM_START: "right side of the septum",
    Border.SEPTUM_END: "left side of the septum",
    Border.ENDOCARDIUM: "endocardium of the free wall",
    Border.EPICARDIUM: "epicardium of the free wall",
}
