"""When a measured number is confidently wrong: one definition for all that is measured with a stated uncertainty."""

from __future__ import annotations

from measure._wilson import Z_95

BANDS = 2  # stated 95 % half-bands, beyond which an error was not to be expected from what is stated


def is_confidently_wrong(*, off: float, in_deviations: float, tolerance: float) -> bool:
    """Return whether an error is both larger than tolerated and larger than what was stated lets expect.

    Parameters
    ----------
    off, tolerance : float
        Error and target in the same unit, or both as shares of the truth.
    in_deviations : float
        The error in stated standard deviations.

    Examples
    --------
    >>> is_confidently_wrong(off=0.10, in_deviations=4.0, tolerance=0.03)
    True
    >>> is_confidently_wrong(off=0.10, in_deviations=3.0, tolerance=0.03)
    False
    >>> is_confidently_wrong(off=0.02, in_deviations=9.0, tolerance=0.03)
    False
    """
    return abs(in_deviations) > BANDS * Z_95 and abs(off) > tolerance
