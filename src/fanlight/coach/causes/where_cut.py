"""Where a chamber is cut off: the depth cuts at the far end, a narrow sector at a side, hand or animal at either."""

from __future__ import annotations

from collections.abc import Mapping

from fanlight.critique.picture_masks import share_on, sure_of
from fanlight.reference.causes import CUT, CutPlace
from fanlight.reference.chambers import ViewChambers
from fanlight.study import Band, Border, ClipReading, Finding, Sector, Verdict

_BORDERS = {
    CutPlace.FAR_END: (Border.FAR,),
    CutPlace.SIDE: (Border.LEFT, Border.RIGHT),
    CutPlace.NARROW_SIDE: (Border.LEFT, Border.RIGHT),
}
_ORDER = (Verdict.MET, Verdict.BORDERLINE, Verdict.MISSED)

Cuts = Mapping[CutPlace, Verdict]


def where_cut(
    reading: ClipReading, chambers: Mapping[str, ViewChambers], band: Band, narrow_below_deg: float
) -> Cuts:  # fmt: skip
    """Return how far chambers are cut off at each place; nothing where the masks of the clip do not tell.

    The outlines of all chambers that the view must show are held against the criterion's band at each place by itself.
    The place that lies worst takes the verdict of the finding, which may have come about at several places together.

    Parameters
    ----------
    reading : ClipReading
        Judged.
    chambers : mapping of str to ViewChambers
        Of the House, by view.
    band : Band
        Of the criterion `chamber_cut`.
    narrow_below_deg : float
        Opening of a sector below which it could be widened, degrees.
    """
    found = next((item for item in reading.findings if item.criterion == CUT), None)
    row, picture = chambers.get(reading.view.view), reading.layout.picture
    if found is None or found.verdict is Verdict.NOT_ASSESSABLE or row is None or picture is None:
        return {}
    seen = [kept for kind in row.whole if (kept := sure_of(reading, kind)) is not None]
    if not seen:
        return {}
    is_narrow = isinstance(picture, Sector) and picture.width_deg < narrow_below_deg
    shares = {place: max(share_on(kept, borders) for kept in seen) for place, borders in _BORDERS.items()}
    shares[CutPlace.SIDE if is_narrow else CutPlace.NARROW_SIDE] = 0.0
    told = {place: band.judge(share)[0] for place, share in shares.items()}
    worst = max(shares, key=lambda place: shares[place])
    is_by_masks = shares[worst] > 0 or any(share_on(kept, (Border.NEAR,)) > 0 for kept in seen)
    if found.verdict is not Verdict.MET and not is_by_masks:
        return {}  # a person saw a cut that the masks do not show: where, nobody knows
    return _as_found(told, worst if shares[worst] else None, found)


def _as_found(told: Cuts, worst: CutPlace | None, found: Finding) -> Cuts:
    """Return the places as the finding says, which a person may have changed; what is cut near the probe has none."""
    if found.verdict is Verdict.MET or worst is None:
        return dict.fromkeys(told, Verdict.MET)
    far = _ORDER.index(found.verdict)
    places = {place: _ORDER[min(_ORDER.index(verdict), far)] for place, verdict in told.items()}
    return places | {worst: found.verdict}
