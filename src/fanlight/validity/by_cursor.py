"""Numbers of an M-mode whose cursor was seen on its guide: aslant or beside the middle they are bounds. Pure."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

from fanlight.measure.guide_cursor import GuideCursor
from fanlight.measure.strip_part import StripPart
from fanlight.measure.wall_peaks import WALL_PEAKS
from fanlight.reference.m_mode_cursor import CursorLimits
from fanlight.reference.validity import Effect, TakenFrom
from fanlight.study import Measurement
from fanlight.validity.measured import HOLDS, Rules

_SURE_SD = 2.0  # what lies nearer to a limit than twice its own error is not said for certain (engineering judgement)
_ACROSS_WALLS = ("lvidd", "lvids", "ivsd", "ivss", "lvwd", "lvws", "epss")  # lengths between parallel walls
_CHORDS = ("lvidd", "lvids")
_MADE_OF_THEM = ("fractional_shortening", "ejection_fraction")
_LOOK_ALIKE = (
    "bundle branch block, a right ventricle under pressure, walls that are truly out of step and "
    "a cursor aslant out of the guide's plane look alike: a remark to look at with the ECG, no diagnosis; defer to the "
    "licensed veterinarian"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Said:
    """What is said of a number; without an effect it is a note."""

    words: str
    effect: Effect = Effect.NOTE


def with_cursor_judged(rules: Rules, cursor: GuideCursor | None) -> Rules:
    """Return the rules without what the guide has answered among that which nothing judges."""
    if cursor is None:
        return rules
    rows = (
        replace(row, not_judged=row.not_judged_beside_guide)
        if row.taken_from is TakenFrom.STRIP and row.not_judged_beside_guide
        else row
        for row in rules.standings
    )
    return replace(rules, standings=tuple(rows))


def weigh_by_cursor(
    measured: Iterable[Measurement], cursor: GuideCursor | None, limits: CursorLimits
) -> list[Measurement]:
    """Return the numbers of one strip, those of a misplaced cursor as bounds or with a note.

    Parameters
    ----------
    measured : iterable of Measurement
        Of one strip, weighed by its clip's findings.
    cursor : GuideCursor or None
        How it lies on the guide; None: not known, then nothing is said, and how far apart the walls reach their inmost
        places is left out.
    limits : CursorLimits
        Of the house.

    Notes
    -----
    Between parallel walls a beam aslant by φ goes 1/cos φ as far; of a way aslant by φ it sees cos φ (plane geometry).
    Beside the middle of a round ventricle by d it meets a chord c of the diameter √(c² + 4 d²).
    """
    listed = list(measured)
    if cursor is None:
        return [item for item in listed if item.label != WALL_PEAKS]
    chord = next((item.value for item in listed if item.name == "lvidd" and item.value), None)
    said = _of_angle(cursor, limits), _of_middle(cursor, chord, limits)
    return [
        _peaks(item, cursor, limits) if item.label == WALL_PEAKS else _told(item, _for(item, cursor, *said))
        for item in listed
    ]


def _limit_deg(cursor: GuideCursor, limits: CursorLimits) -> float:
    return limits.ring_deg if cursor.part is StripPart.TRICUSPID_RING else limits.septum_deg


def _of_angle(cursor: GuideCursor, limits: CursorLimits) -> _Said:
    limit, off = _limit_deg(cursor, limits), _SURE_SD * cursor.error_deg
    cosine = math.cos(math.radians(cursor.aslant_deg))
    if cursor.part is StripPart.TRICUSPID_RING:
        effect, what, much = Effect.AT_LEAST, "to the way of the ring", f"{100 * (1 - cosine):.0f} % too small"
    else:
        effect, what = Effect.AT_MOST, "from square to the septum"
        # Beyond the steepest slant a length means nothing; the share is said up to there.
        much = f"{100 * (1 / cosine - 1):.0f} % too large" if cosine > 0.1 else "far too large"
    lies = f"on the guide the cursor lies {cursor.aslant_deg:.0f}° ± {cursor.error_deg:.0f}° {what}"
    if cursor.aslant_deg - off > limit:
        return _Said(words=f"{lies}, beyond {limit:g}°: it reads about {much}", effect=effect)
    if cursor.aslant_deg + off > limit:
        return _Said(words=f"perhaps aslant: {lies}, near the limit of {limit:g}°")
    return _Said(words=lies)


def _of_middle(cursor: GuideCursor, chord_mm: float | None, limits: CursorLimits) -> _Said | None:
    """Return what a cursor beside the middle of a round ventricle does to its diameters; None where it is not known."""
    if cursor.beside_mm is None or chord_mm is None:
        return None
    least, most = (
        _lost_share(chord_mm, cursor.beside_mm + sign * _SURE_SD * cursor.beside_error_mm) for sign in (-1, 1)
    )
    lies = f"on the guide the cursor runs {cursor.beside_mm:.1f} mm beside the marked middle of the ventricle"
    lost = f"a chord {100 * _lost_share(chord_mm, cursor.beside_mm):.0f} % shorter than the diameter"
    if least > limits.beside_share:
        return _Said(words=f"{lies}: {lost}", effect=Effect.AT_LEAST)
    return _Said(words=f"perhaps beside the middle: {lies}, {lost}" if most > limits.beside_share else lies)


def _lost_share(chord_mm: float, beside_mm: float) -> float:
    return 1.0 - chord_mm / math.hypot(chord_mm, 2.0 * max(beside_mm, 0.0))


def _for(item: Measurement, cursor: GuideCursor, angle: _Said, middle: _Said | None) -> list[_Said]:
    """Return what the cursor says of one number; of what both ends of a ratio share only a note is left."""
    if cursor.part is StripPart.TRICUSPID_RING:
        return [angle] if item.name == "tapse" else []
    if item.name in _MADE_OF_THEM:
        misses = [each for each in (angle, middle) if each is not None and each.effect is not Effect.NOTE]
        return [_Said(words=each.words.partition(":")[0]) for each in misses]
    said = [angle] if item.name in _ACROSS_WALLS else []
    if middle is not None and item.name in _CHORDS:
        said.append(middle)
    return said


def _told(item: Measurement, said: list[_Said]) -> Measurement:
    if item.value is None or not said:
        return item
    bounds = [each for each in said if each.effect is not Effect.NOTE]
    before = {effect for effect in (Effect.AT_LEAST, Effect.AT_MOST) if item.validity.startswith(effect.value)}
    if len(before.union(each.effect for each in bounds)) > 1:
        words = "; ".join(each.words for each in bounds)
        return replace(
            item, value=None, uncertainty=None, reason=f"not given, it may read too large and too small: {words}",
            validity=f"refused: {words}",
        )  # fmt: skip
    first = [f"{each.effect.value}: {each.words}" for each in bounds]
    notes = [f"note: {each.words}" for each in said if each.effect is Effect.NOTE]
    was = [item.validity] if item.validity not in ("", HOLDS) else []
    return replace(item, validity="; ".join((*first, *was, *notes)))


def _peaks(item: Measurement, cursor: GuideCursor, limits: CursorLimits) -> Measurement:
    """Return how far apart the walls' peaks lie, where the cursor is seen to lie square to the septum."""
    if item.value is None:
        return item
    if cursor.aslant_deg + _SURE_SD * cursor.error_deg > limits.septum_deg:
        return replace(
            item, value=None, uncertainty=None,
            reason=(
                f"not given: the cursor is not surely within {limits.septum_deg:g}° of square to the septum, and one "
                "aslant puts the peaks of septum and free wall apart by itself"
            ),
        )  # fmt: skip
    sure = abs(item.value) - _SURE_SD * (item.uncertainty or 0.0) > limits.peaks_percent
    if not sure:
        return replace(item, validity=f"note: not surely out of step (beyond {limits.peaks_percent:g} % of the beat)")
    later = "free wall" if item.value > 0 else "septum"
    return replace(
        item,
        validity=(
            f"note: out of step: the {later} is inmost later, by more than {limits.peaks_percent:g} % of the beat; "
            f"{_LOOK_ALIKE}"
        ),
    )
