"""How the face of the probe touches the skin."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class Contact:
    """Part of the face that has lifted off.

    Raises
    ------
    ValueError
        If a share lies outside 0 to 1, or the side is neither -1 nor 1.
    """

    lifted_fraction: float = 0.0  # of the face, from one edge
    side: int = 1  # 1: the edge at the marker, -1: the other
    overall_loss_db: float = 0.0  # too little gel, one way, mean of the face: it lies in patches
    reverberation_db: float = 0.0  # haze near the face above that of a good contact

    def __post_init__(self) -> None:
        if not 0 <= self.lifted_fraction <= 1:
            raise ValueError(f"contact: the lifted share must lie between 0 and 1, got {self.lifted_fraction}")
        if self.side not in (-1, 1):
            raise ValueError(f"contact: side must be 1 (marker) or -1, got {self.side}")
        if self.overall_loss_db < 0:
            raise ValueError(f"contact: a loss is not negative, got {self.overall_loss_db} dB")


FULL_CONTACT = Contact()
