"""What a screen says in words: the console's settings and whose examination it is."""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class ScreenFacts:
    """Everything that a line of the screen may name. None or "": not known, the line is left out."""

    depth_mm: float
    frequency_mhz: float
    gain_db: float
    dynamic_range_db: float
    frame_rate_hz: float
    harmonics: bool = False
    focus_mm: float | None = None
    heart_rate_bpm: float | None = None
    mechanical_index: float | None = None
    sweep_mm_s: float | None = None  # M-mode only
    practice: str = ""
    animal: str = ""
    owner: str = ""  # family name
    case_number: str = ""
    at: datetime | None = None
    view: str = ""  # painted only where the study is labelled

    def __post_init__(self) -> None:
        for name in ("depth_mm", "frequency_mhz", "frame_rate_hz", "dynamic_range_db"):
            if not getattr(self, name) > 0:
                raise ValueError(f"{name} must be above 0, got {getattr(self, name)}; a console shows no such setting")

    def words(self, template: str) -> str:
        """Return a line with its fields filled in, or "" where it names a fact that is not known."""
        known = {item.name: value for item in fields(self) if (value := getattr(self, item.name)) not in (None, "")}
        known["depth_cm"] = self.depth_mm / 10
        if self.focus_mm is not None:
            known["focus_cm"] = self.focus_mm / 10
        known["harmonic_word"] = "harmonic" if self.harmonics else "fundamental"
        try:
            return template.format(**known)
        except KeyError as error:
            name = str(error.args[0])
            if name in {item.name for item in fields(self)} | {"focus_cm"}:
                return ""
            raise ValueError(f'a line of the screen asks for "{name}", which is no fact: {template!r}') from None
