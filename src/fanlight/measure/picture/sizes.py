"""Which lengths a 2-D picture gives: when in the beat each is taken, in which views, and by which lines or hinges."""

from __future__ import annotations

from dataclasses import dataclass

from fanlight.measure.picture.phase import Phase
from fanlight.reference.views import View
from fanlight.study import Landmark, Valve


@dataclass(frozen=True, slots=True, kw_only=True)
class Size:
    """One length.

    Attributes
    ----------
    key : str
        Of quantities.toml; a line whose label names this quantity gives it.
    phase : Phase
        At which it is taken; `NOT_KNOWN` where the line alone decides.
    listed_as : tuple of str
        It is measured in views whose `measurements` hold one of these.
    hinges : tuple of Landmark
        The two points that give it without a line.
    valve : Valve or None
        It is measured in long views of this valve too.
    changes : bool
        Of a ring: whether it is told for each moment of the beat apart. Those of the arteries hardly change.
    """

    key: str
    phase: Phase = Phase.NOT_KNOWN
    listed_as: tuple[str, ...] = ()
    hinges: tuple[Landmark, ...] = ()
    valve: Valve | None = None
    changes: bool = True


_D, _S = Phase.END_DIASTOLE, Phase.END_SYSTOLE
SIZES = (
    Size(key="lvidd", phase=_D, listed_as=("lvidd", "lv_ao_long_axis")),
    Size(key="lvids", phase=_S, listed_as=("lvids", "lvidd", "lv_ao_long_axis")),
    Size(key="ivsd", phase=_D, listed_as=("ivsd",)),
    Size(key="ivss", phase=_S, listed_as=("ivss", "ivsd")),
    Size(key="lvwd", phase=_D, listed_as=("lvwd",)),
    Size(key="lvws", phase=_S, listed_as=("lvws", "lvwd")),
    Size(key="left_atrium_long_axis", phase=_S, listed_as=("left_atrium_long_axis", "la_ao_long_axis")),
    Size(key="epss", listed_as=("epss",)),
    Size(key="pulmonary_trunk", listed_as=("mpa_ao",)),
    Size(key="right_pulmonary_artery", listed_as=("rpad_index", "left_atrium_long_axis", "la_ao_long_axis")),
    Size(key="pulmonary_vein", listed_as=("left_atrium_long_axis", "la_ao_long_axis")),
    Size(
        key="mitral_annulus", valve=Valve.MITRAL,
        hinges=(Landmark.MITRAL_SEPTAL_HINGE, Landmark.MITRAL_PARIETAL_HINGE),
    ),
    Size(
        key="tricuspid_annulus", valve=Valve.TRICUSPID,
        hinges=(Landmark.TRICUSPID_SEPTAL_HINGE, Landmark.TRICUSPID_PARIETAL_HINGE),
    ),
    Size(
        key="aortic_annulus", valve=Valve.AORTIC,
        hinges=(Landmark.AORTIC_SEPTAL_HINGE, Landmark.AORTIC_MITRAL_HINGE), changes=False,
    ),
    Size(key="pulmonary_annulus", valve=Valve.PULMONIC, listed_as=("mpa_ao",), changes=False),
)  # fmt: skip
BY_KEY = {size.key: size for size in SIZES}
# Lines that are parts of a ratio only.
PARTS = ("left_atrium", "aortic_root")
VOLUMES = {"edv": _D, "esv": _S}
LENGTHS = {"lv_length_d": _D, "lv_length_s": _S}
_LONG = ("long", "apical", "subcostal")


def is_measured_in(key: str, view: View) -> bool:
    """Return whether a view carries a quantity: as the house lists it there, or by the valve or axis that it shows."""
    if key in ("left_atrium", "aortic_root"):
        return "la_ao" in view.measurements or (key == "aortic_root" and "mpa_ao" in view.measurements)
    if key in VOLUMES:
        return "edv_index" in view.measurements
    if key in LENGTHS:
        return _shows(Valve.MITRAL, view)
    size = BY_KEY[key]
    is_shown = size.valve is not None and _shows(size.valve, view)
    return is_shown or any(listed in view.measurements for listed in size.listed_as)


def _shows(valve: Valve, view: View) -> bool:
    """Whether a view cuts this valve lengthwise."""
    return view.axis in _LONG and any(served is valve for served, _ in view.serves)
