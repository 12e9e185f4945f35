"""Which Doppler fault each criterion should see, from which grade that is claimed, and how the good clips are parted.

What is made does not hang on this: a criterion that comes later is asked on the clips that are there.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from fanlight.critique.doppler.families import DOPPLER_FAMILIES
from fanlight.reference.criteria import read_family
from fanlight.reference.load import load_house
from fanlight.simulate.faults.doppler_faults import DOPPLER_FAULTS
from measure._doppler_clips import ClipTruth

DOPPLER_FAMILY_NAMES = tuple(family.name for family in DOPPLER_FAMILIES)


@dataclass(frozen=True, slots=True, kw_only=True)
class DopplerCase:
    """One fault and the criterion that should see it."""

    fault: str  # key of fanlight.simulate.faults.doppler_faults
    criterion: str
    from_strength: int = 3  # the claim: at this grade and above
    why: str = ""  # of another grade than 3, which is plain to an eye that knows

    @property
    def title(self) -> str:
        """What is wrong, in words."""
        return DOPPLER_FAULTS[self.fault].title


CASES = (
    DopplerCase(fault="colour_box_large", criterion="colour_box_share"),
    DopplerCase(fault="colour_box_misplaced", criterion="colour_box_split"),
    DopplerCase(fault="colour_scale_low", criterion="colour_wrap"),
    DopplerCase(fault="colour_scale_low", criterion="colour_scale_room"),
    DopplerCase(fault="colour_scale_high", criterion="colour_scale_use"),
    DopplerCase(fault="colour_scale_high", criterion="colour_filling"),
    DopplerCase(fault="colour_gain_high", criterion="colour_specks"),
    DopplerCase(fault="colour_gain_high", criterion="colour_noise"),
    DopplerCase(
        fault="colour_gain_low", criterion="colour_filling", from_strength=4,
        why="near blood stays coloured before: it lies 10 to 20 dB over the noise",
    ),
    DopplerCase(fault="colour_flash", criterion="colour_flash"),
    DopplerCase(fault="colour_flash", criterion="colour_slow_movement"),
    DopplerCase(fault="colour_write_over", criterion="colour_over_tissue"),
    DopplerCase(fault="colour_write_over", criterion="colour_slow_movement"),
    DopplerCase(fault="baseline_misplaced", criterion="spectrum_baseline"),
    DopplerCase(fault="baseline_misplaced", criterion="spectrum_wrap"),
    DopplerCase(fault="spectral_scale_low", criterion="spectrum_wrap"),
    DopplerCase(fault="spectral_scale_high", criterion="spectrum_height"),
    DopplerCase(fault="spectral_sweep_slow", criterion="spectrum_sweep"),
    DopplerCase(fault="spectral_filter_high", criterion="spectrum_filter_gap"),
    DopplerCase(fault="spectral_gain_high", criterion="spectrum_noise"),
    DopplerCase(fault="spectral_gain_high", criterion="spectrum_blooming"),
    DopplerCase(fault="spectral_gain_low", criterion="spectrum_open_edge"),
    DopplerCase(
        fault="spectral_gain_low", criterion="spectrum_faint", from_strength=4,
        why="of 40 dB on the display half is left at 4",
    ),
    DopplerCase(fault="gate_misplaced", criterion="spectrum_gate_place"),
    DopplerCase(fault="beam_aslant", criterion="spectrum_angle"),
    DopplerCase(
        fault="angle_corrected", criterion="spectrum_angle_corrected", from_strength=1, why="it is drawn and written"
    ),
    DopplerCase(
        fault="wrong_signal", criterion="spectrum_wrong_signal", from_strength=1, why="all grades are the same"
    ),
    DopplerCase(
        fault="no_guide", criterion="spectrum_guide", from_strength=1, why="the picture is there or not"
    ),
)  # fmt: skip


def doppler_criteria() -> tuple[str, ...]:
    """Return every criterion of Doppler clips that the engine has."""
    house = load_house()
    return tuple(key for name in DOPPLER_FAMILY_NAMES for key in read_family(house, name))


def unseen_faults() -> tuple[str, ...]:
    """Return the titles of the faults that no criterion is said to see."""
    seen = {case.fault for case in CASES}
    return tuple(kind.title for key, kind in DOPPLER_FAULTS.items() if key not in seen)


def _weight(clip: ClipTruth) -> str:
    return "below 6 kg" if clip.weight_kg < 6 else "6 to 20 kg" if clip.weight_kg < 20 else "above 20 kg"


# Fault-free variation: how the good clips are parted, by name.
NUISANCES: dict[str, Callable[[ClipTruth], str]] = {
    "mode": lambda clip: clip.mode.replace("_", " "),
    "valve": lambda clip: clip.valve,
    "flow": lambda clip: clip.sought,
    "species": lambda clip: clip.species,
    "weight": _weight,
    "heart": lambda clip: clip.heart.replace("_", " "),
    "screen": lambda clip: clip.layout.replace("_", " "),
    "colour map": lambda clip: clip.colour_map,
    "array": lambda clip: clip.array,
}
