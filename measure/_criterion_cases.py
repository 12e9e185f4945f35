"""Which fault each criterion should see and from which strength that is claimed; what varies without being a fault."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from fanlight.simulate.faults.faults import FAULTS
from measure._criterion_record import GoodClip


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One fault and the criterion that should see it."""

    fault: str  # key of fanlight.simulate.faults.faults, or of OWN_FAULTS
    criterion: str
    family: str
    from_strength: int  # the claim: at this strength and above
    why: str = ""  # of another strength than 3, which is plain to an eye that knows

    @property
    def title(self) -> str:
        """What is wrong, in words."""
        return OWN_FAULTS.get(self.fault) or FAULTS[self.fault].title


OWN_FAULTS = {"frozen_frames": "frames shown twice (recorded from the screen)"}

CASES = (
    Case(fault="gain_low", criterion="overall_gain", family="gain", from_strength=3),
    Case(fault="gain_high", criterion="overall_gain", family="gain", from_strength=3),
    Case(
        fault="gain_high",
        criterion="cavity_haze",
        family="gain",
        from_strength=4,
        why="blood lies 31 dB under muscle: it comes out of the black from there on",
    ),
    Case(
        fault="gain_high", criterion="saturation", family="gain", from_strength=5, why="muscle lies 22 dB under white"
    ),
    Case(fault="near_field_dark", criterion="near_field_brightness", family="near_field", from_strength=3),
    Case(
        fault="near_field_clutter",
        criterion="near_field_clutter",
        family="near_field",
        from_strength=4,
        why="up to 12 dB are what a machine without harmonics shows on any chest, and no fault of the hand",
    ),
    Case(
        fault="tgc_slider",
        criterion="tgc_banding",
        family="tgc",
        from_strength=5,
        why="a right ventricle across the beams is as dark a stripe as a slider that is 15 dB out",
    ),
    Case(fault="far_field_loss", criterion="far_field_loss", family="penetration", from_strength=3),
    Case(fault="focus_shallow", criterion="focal_depth", family="focus", from_strength=3),
    Case(fault="focus_deep", criterion="focal_depth", family="focus", from_strength=3),
    Case(
        fault="depth_large",
        criterion="depth_use",
        family="depth_use",
        from_strength=3,
    ),
    Case(
        fault="sector_wide",
        criterion="sector_spare_width",
        family="sector_width",
        from_strength=5,
        why="the array ends at 100 degrees, and hearts leave 0 to 35 degrees of a good sector free",
    ),
    Case(fault="rib_shadow", criterion="rib_shadow", family="shadow", from_strength=3),
    Case(fault="contact_lifted", criterion="poor_contact", family="shadow", from_strength=3),
    Case(fault="lung_in_the_way", criterion="lung_cover", family="lung", from_strength=3),
    Case(
        fault="jpeg_strong",
        criterion="compression_blocks",
        family="export",
        from_strength=1,
        why="blocks are plain to measure before they are to see",
    ),
    Case(fault="rescaled_export", criterion="rescaled", family="export", from_strength=3),
    Case(fault="few_beats", criterion="beats_in_clip", family="time", from_strength=1, why="counting"),
    Case(fault="frame_rate_low", criterion="frames_per_beat", family="time", from_strength=2, why="counting"),
    Case(fault="frame_rate_low", criterion="frame_rate_hz", family="time", from_strength=2, why="counting"),
    Case(fault="no_ecg", criterion="ecg_present", family="time", from_strength=1, why="leads are on or off"),
    Case(fault="drift_during_clip", criterion="probe_drift", family="time", from_strength=3),
    Case(
        fault="sweep_as_clip",
        criterion="plane_held",
        family="time",
        from_strength=4,
        why="levels of the short axis lie 5 to 10 degrees of tilt apart; first and last whole beat of 2.5 differ "
        "by three fifths of the sweep, which is one level at strength 3 and surely two from 4 on",
    ),
    Case(fault="frozen_frames", criterion="frozen_frames", family="time", from_strength=1, why="counting"),
)
CRITERIA = tuple(dict.fromkeys(case.criterion for case in CASES))
FAULT_KEYS = tuple(dict.fromkeys(case.fault for case in CASES))


def _grade_from(fault: str) -> int:
    """The strength from which all claims about a fault hold."""
    return max(case.from_strength for case in CASES if case.fault == fault)


def strengths_of(fault: str, turn: int) -> tuple[int, ...]:
    """Return the strengths at which a subject is given a fault, by the subject's turn (0, 1, 2, ...).

    Every subject has one for which all claims hold, so that each claim rests on as many clips as there are subjects.
    Those below are made on every third subject, to show where the fault begins to be seen; where the claims about one
    fault begin at different strengths, on every subject.
    """
    first = _grade_from(fault)
    claimed = first + turn % (6 - first)
    if first == 1:
        return (claimed,)
    split = len({case.from_strength for case in CASES if case.fault == fault}) > 1
    if not split and turn % 3:
        return (claimed,)
    return claimed, 1 + (turn if split else turn // 3) % (first - 1)


PICTURE_FAMILIES = tuple(dict.fromkeys(case.family for case in CASES if case.family != "time"))


def cases_of(fault: str) -> tuple[Case, ...]:
    """Return the cases that a fault makes."""
    return tuple(case for case in CASES if case.fault == fault)


def families_of(fault: str) -> tuple[str, ...]:
    """Return the families that should see a fault."""
    return tuple(dict.fromkeys(case.family for case in cases_of(fault)))


def _weight(clip: GoodClip) -> str:
    return "below 6 kg" if clip.weight_kg < 6 else "6 to 20 kg" if clip.weight_kg < 20 else "above 20 kg"


def _window(clip: GoodClip) -> str:
    for window in ("right_parasternal", "left_apical", "left_cranial"):
        if clip.view.startswith(window):
            axis = " long axis" if "_long_axis" in clip.view else " short axis" if "_short_axis" in clip.view else ""
            return window.replace("_", " ") + axis
    return "subcostal"


def _frequency(clip: GoodClip) -> str:
    return "below 5 MHz" if clip.echo_mhz < 5 else "5 to 8 MHz" if clip.echo_mhz < 8 else "above 8 MHz"


# Fault-free variation: how the good clips are parted, by name.
NUISANCES: dict[str, Callable[[GoodClip], str]] = {
    "species": lambda clip: clip.species,
    "weight": _weight,
    "chest": lambda clip: clip.chest,
    "window": _window,
    "screen": lambda clip: clip.layout.replace("_", " "),
    "grey map": lambda clip: clip.grey_map,
    "frequency of the echo": _frequency,
    "array": lambda clip: clip.array,
    "breath": lambda clip: "breathing in" if clip.breath > 0.1 else "breathed out",
}
