"""How a formula says that it is not defined for an input: limit, value and remedy."""

from __future__ import annotations

import math


class UndefinedError(ValueError):
    """A formula is not defined for this input."""

    def __init__(self, what: str, limit: str, value: object, remedy: str) -> None:
        self.what = what
        self.limit = limit
        self.value = value
        self.remedy = remedy
        super().__init__(f"{what} must be {limit}, got {value}; {remedy}")


class SizeError(UndefinedError):
    """A length, area, volume or weight is not above 0."""


class VelocityError(UndefinedError):
    """A velocity or a time is not one that flow can have."""


class BeamAngleError(UndefinedError):
    """The angle between beam and flow is not one that Doppler can have."""


class RatingsError(UndefinedError):
    """A table of ratings or pairs is too small, has gaps or does not vary."""


class RateError(UndefinedError):
    """A failure rate or a limit of a learning chart is out of its range."""


def positive(what: str, value: float, remedy: str = "measure it again and state the unit") -> float:
    """Return the value; SizeError when it is not a number above 0."""
    if not (math.isfinite(value) and value > 0):
        raise SizeError(what, "a number above 0", value, remedy)
    return value


def not_negative(what: str, value: float, remedy: str = "give its size without the sign") -> float:
    """Return the value; VelocityError when it is not a number from 0 up."""
    if not (math.isfinite(value) and value >= 0):
        raise VelocityError(what, "a number from 0 up", value, remedy)
    return value
