"""What follows from lengths of one clip: shortening and the ratios of the long axis."""

from __future__ import annotations

from fanlight.measure.picture.case import PictureCase
from fanlight.measure.picture.over_beats import ClipMean, ratio_of, share_lost
from fanlight.study import Measurement, Species

# (quantity, part, whole); the rings carry the moment of the beat in their key
_RATIOS = (
    ("sphericity_index", "lv_length_d", "lvidd"),
    ("la_lv_long_axis", "left_atrium_long_axis", "lvidd"),
    ("lv_ao_long_axis", "lvidd", "aortic_annulus"),
)
_LA_AO = {Species.CAT: "la_ao_annulus"}  # the tables' rows: of the annulus in cats, of the long axis in dogs


def derive(means: dict[str, ClipMean], case: PictureCase) -> list[Measurement]:
    """Return fractional shortening and ratios, of lengths that were measured on the same clip in one way.

    Long-axis ratios hold where they are made: only in views whose long axis shows them.
    """
    said = _shortening(means, case)
    la_ao = _LA_AO.get(case.patient.species, "la_ao_long_axis") if case.patient.species else "la_ao_long_axis"
    ratios = (*_RATIOS, (la_ao, "left_atrium_long_axis", "aortic_annulus"))
    for key, part, whole in ratios if case.view.axis != "short" else ():
        above, below = means.get(part), _ring_or(means, whole)
        if above is not None and below is not None:
            words = (f"{_symbol(part, case)} over {_symbol(whole, case)} of this clip",)
            said.append(case.write.value(key, ratio_of(above, below), "1", words))
    return said


def _ring_or(means: dict[str, ClipMean], key: str) -> ClipMean | None:
    """Return a length; of a ring the one in systole, when its valve is open, before any other."""
    return next((means[k] for k in (key, f"{key} end-systole", f"{key} end-diastole") if k in means), None)


def _symbol(key: str, case: PictureCase) -> str:
    return case.write.quantities[key].symbol


def _shortening(means: dict[str, ClipMean], case: PictureCase) -> list[Measurement]:
    before, after = means.get("lvidd"), means.get("lvids")
    if before is None or after is None:
        return []
    if after.value > before.value:
        reason = "the cavity is larger in end-systole than in end-diastole; check the two frames"
        return [case.write.none("fractional_shortening", reason, after.frames)]
    return [case.write.value("fractional_shortening", share_lost(before, after), "%", ())]
