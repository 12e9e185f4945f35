"""What a strip through the tips of the mitral leaflets measures: E-point to septal separation, and the A point."""

from __future__ import annotations

from dataclasses import dataclass

from fanlight.measure.m_mode import MModeStrip, Seen
from fanlight.measure.m_mode.spread import combined
from fanlight.measure.valve_strip.leaflet import Echo, Opening, find_opening, first_echo
from fanlight.measure.valve_strip.septum import Septum, find_septum
from fanlight.measure.valve_strip.strip_beats import tissue_and_beats
from fanlight.measure.valve_strip.told import PIXEL_SHARE, Value, no_value, tell
from fanlight.study import Measurement

METHOD = "M-mode of the mitral valve, leading edge to leading edge/1"
EPSS = "epss"
_E_LABEL, _A_LABEL = "EPSS", "A point to septum"
_NOT_APART = "E and A are not apart"
# Simulated strips of ring A, seeds 300 to 339: each border errs by about half of the way from the middle of its rise to
# its crest, and beats differ with the breath.
_PLACEMENT_SHARE = 0.5
_USUAL_SHARE = 0.1
_LEAST_SHARE = 0.3  # of the beats; fewer may be chance


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MitralReading:
    """Everything that was read off a strip; parts are None, or empty, where the strip gave no more."""

    septum: Septum | None
    echo: Echo | None
    openings: tuple[Opening, ...]
    measurements: tuple[Measurement, ...]


def measure_mitral(strip: MModeStrip, seen: Seen | None = None) -> MitralReading:
    """Return the separations of septum and septal mitral leaflet at its E and its A point, or why there are none.

    Parameters
    ----------
    strip : MModeStrip
        From the right through the septum and the tips of the mitral leaflets, with its R waves.
    seen : Seen or None
        Where the strip was seen.

    Notes
    -----
    The distance runs from leading edge to leading edge at the leaflet's largest early opening (WHIPPET2023). A beat
    counts where the leaflet comes to a clear E point, closes afterwards, and is parted from the septum by blood.
    A cursor above or below the tips, and one that is not square to the septum, read too large; that is not in the
    uncertainty.
    """
    seen = seen or Seen()
    ready = tissue_and_beats(strip)
    if isinstance(ready, str):
        return _refused(ready, seen)
    tissue, beats = ready
    septum = find_septum(strip, tissue, beats.beats)
    echo = first_echo(strip, tissue, septum)
    found = {beat.number: find_opening(strip, septum, echo, beat) for beat in beats.counted}
    openings = tuple(item for item in found.values() if isinstance(item, Opening))
    refused = {number: item for number, item in found.items() if isinstance(item, str)}
    error_mm = combined(
        _PLACEMENT_SHARE * septum.blur_mm, _PLACEMENT_SHARE * septum.blur_mm,
        PIXEL_SHARE * strip.mm_per_row, PIXEL_SHARE * strip.mm_per_row,
    )  # fmt: skip
    e_mm = {item.number: item.e_mm for item in openings}
    a_mm = {item.number: item.a_mm for item in openings if item.has_a}
    not_apart = {item.number: _NOT_APART for item in openings if not item.has_a}
    e_value, a_value = (
        Value(
            name=name, label=label, method=METHOD, usual_share=_USUAL_SHARE, placement_mm=error_mm,
            least_share=_LEAST_SHARE,
        )
        for name, label in ((EPSS, _E_LABEL), ("", _A_LABEL))
    )  # fmt: skip
    return MitralReading(
        septum=septum,
        echo=echo,
        openings=openings,
        measurements=(
            tell(e_value, e_mm, refused, beats, strip, seen),
            tell(a_value, a_mm, refused | not_apart, beats, strip, seen),
        ),
    )


def _refused(reason: str, seen: Seen) -> MitralReading:
    both = ((EPSS, _E_LABEL), ("", _A_LABEL))
    return MitralReading(
        septum=None,
        echo=None,
        openings=(),
        measurements=tuple(no_value(name, label, METHOD, reason, seen) for name, label in both),
    )
