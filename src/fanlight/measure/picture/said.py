"""How a value of a picture is written: its method in words, or the reason why there is none."""

from __future__ import annotations

from dataclasses import dataclass

from fanlight.measure.picture.obliquity import length_shortfall, tube_excess
from fanlight.measure.picture.over_beats import ClipMean
from fanlight.measure.picture.placed import Given, Grid
from fanlight.reference.quantities import QuantityName
from fanlight.study import Measurement

VERSION = 1
NO_SCALE = "nothing is calibrated where it lies; mark two points of the scale"
_OBLIQUE_DEG = 15.0  # as far as a careful hand's plane may still be off (engineering judgement)
_LONG_SHAPE = 1.9  # length over width of a normal left ventricle (engineering judgement)
ACROSS = f"not in ±: a plane {_OBLIQUE_DEG:.0f}° oblique reads up to {100 * tube_excess(_OBLIQUE_DEG):.1f} % too long"
ALONG = (
    f"not in ±: a plane {_OBLIQUE_DEG:.0f}° off the axis reads up to "
    f"{100 * length_shortfall(_OBLIQUE_DEG, _LONG_SHAPE):.0f} % too short"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Writer:
    """Makes measurements of one giver on one clip."""

    given: Given
    grid: Grid
    quantities: dict[str, QuantityName]

    def value(
        self, key: str, mean: ClipMean, unit: str, words: tuple[str, ...], *, way: str = "", label: str = ""
    ) -> Measurement:
        """Return a value, or the reason where it needs a scale and there is none.

        Parameters
        ----------
        key : str
            Of quantities.toml; "" for what the tables have no quantity for.
        mean : ClipMean
        unit : str
        words : tuple of str
            How it was taken, put together by semicolons.
        way : str
            Stands behind the label, to tell ways of taking one quantity apart.
        label : str
            In place of the quantity's symbol.
        """
        if mean.power and not self.grid.has_mm:
            return self.none(key, NO_SCALE, mean.frames, way=way, label=label)
        said = [f"2-D picture/{VERSION}", self.given.how, *words, mean.spread_words(unit)]
        return Measurement(
            name=key, label=self._label(key, way, label), value=mean.value, unit=unit,
            uncertainty=mean.error(self.grid.mm_share), frames=mean.frames, method="; ".join(filter(None, said)),
            given_by=self.given.given_by,
        )  # fmt: skip

    def none(self, key: str, reason: str, frames: tuple[int, ...], *, way: str = "", label: str = "") -> Measurement:
        """Return the reason in place of a value."""
        return Measurement(
            name=key, label=self._label(key, way, label), value=None, unit="", frames=frames,
            method=f"2-D picture/{VERSION}; {self.given.how}", given_by=self.given.given_by, reason=reason,
        )  # fmt: skip

    def _label(self, key: str, way: str, label: str) -> str:
        name = label or self.quantities[key].symbol
        return f"{name}, {way}" if way else name
