"""Numbers of a strip that follow from others of the same strip: shortening, ratios, gradients. Pure."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from fanlight.reference.formulas.flow import pressure_gradient_mmhg
from fanlight.reference.formulas.heart_size import fractional_shortening_percent
from fanlight.reference.formulas.ventricle import ejected_percent, teichholz_volume_ml
from fanlight.reference.m_mode import read_m_mode_settings
from fanlight.study import House

_STEP = 1e-3  # for derivatives, a share of the part
_GROWS = "the cavity is larger in end-systole than in end-diastole"
_OUTLASTS = "the acceleration is longer than the ejection"


@dataclass(frozen=True, slots=True, kw_only=True)
class Follows:
    """One quantity, its parts by key, and its formula of their sizes in the units of quantities.toml."""

    key: str
    parts: tuple[str, ...]
    formula: Callable[..., float]
    why_larger: str = ""  # said where the part that must be the smaller of two is the larger; "": either may be
    smaller: int = 1  # which part that is
    how: str = ""  # what the formula is called, where a quantity has several

    def why_not(self, *sizes: float) -> str:
        """Return why the formula is not defined for these sizes, "" where it is."""
        if self.why_larger and sizes[self.smaller] > sizes[1 - self.smaller]:
            return self.why_larger
        return ""

    def slopes(self, *sizes: float) -> tuple[float, ...]:
        """Return the derivative by each part, from the side on which the formula stays defined."""
        found = []
        for k, size in enumerate(sizes):
            step = (-_STEP if self.why_larger and k == self.smaller else _STEP) * size
            moved = self.formula(*sizes[:k], size + step, *sizes[k + 1 :])
            found.append((moved - self.formula(*sizes)) / step)
        return tuple(found)


def _ratio(part: float, whole: float) -> float:
    return part / whole


def _teichholz_percent(lvidd_mm: float, lvids_mm: float) -> float:
    return ejected_percent(teichholz_volume_ml(lvidd_mm / 10), teichholz_volume_ml(lvids_mm / 10))


_TEICHHOLZ = Follows(
    key="ejection_fraction", parts=("lvidd", "lvids"), formula=_teichholz_percent, why_larger=_GROWS, how="Teichholz"
)
_ALWAYS = (
    Follows(
        key="fractional_shortening", parts=("lvidd", "lvids"), formula=fractional_shortening_percent, why_larger=_GROWS
    ),
    Follows(key="mitral_e_a", parts=("mitral_e", "mitral_a"), formula=_ratio),
    Follows(key="tricuspid_e_a", parts=("tricuspid_e", "tricuspid_a"), formula=_ratio),
    Follows(
        key="aortic_at_et", parts=("aortic_acceleration_time", "aortic_ejection_time"), formula=_ratio,
        why_larger=_OUTLASTS, smaller=0,
    ),
    Follows(
        key="pa_at_et", parts=("pa_acceleration_time", "pa_ejection_time"), formula=_ratio, why_larger=_OUTLASTS,
        smaller=0,
    ),
    *(
        Follows(key=f"{flow}_peak_gradient", parts=(f"{flow}_vmax",), formula=pressure_gradient_mmhg)
        for flow in ("aortic", "pulmonary", "mr", "tr", "ar", "pr")
    ),
)  # fmt: skip


def follows_in(house: House) -> tuple[Follows, ...]:
    """Return the rows that a house works out: Teichholz' ejection fraction only where it says so."""
    return (*_ALWAYS, _TEICHHOLZ) if house.kept("m_mode", read_m_mode_settings).with_teichholz else _ALWAYS
