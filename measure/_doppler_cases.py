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
from fanlight.study import Valve
from measure._doppler_clips import ClipTruth

INFLOW = (Valve.MITRAL.value, Valve.TRICUSPID.value)
DOPPLER_FAMILY_NAMES = tuple(family.name for family in DOPPLER_FAMILIES)


@dataclass(frozen=True, slots=True, kw_only=True)
class DopplerCase:
    """One fault and the criterion that should see it."""

    fault: str  # key of fanlight.simulate.faults.doppler_faults
    criterion: str
    from_strength: int = 3  # the claim: at this grade and above
    why: str = ""  # of another grade than 3, which is plain to an eye that knows
    counts: Callable[[ClipTruth], bool] = lambda _: True  # of the clips with this fault, which are claimed
    only: str = ""  # the same in words

    @property
    def title(self) -> str:
        """What is wrong, in words."""
        return DOPPLER_FAULTS[self.fault].title + (f", {self.only}" if self.only else "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Unclaimed:
    """A fault that no criterion is said to see, the criterion that comes nearest to it, and why there is no claim."""

    fault: str
    criterion: str  # "" for none
    why: str

    @property
    def title(self) -> str:
        """What is wrong, in words."""
        return DOPPLER_FAULTS[self.fault].title


def _other_half(clip: ClipTruth) -> bool:
    """Whether the flow that was met runs in the other half of the beat than that of the valve that is named."""
    return (clip.valve in INFLOW) != (clip.signal_valve in INFLOW)


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
    DopplerCase(fault="breath_loses_flow", criterion="spectrum_open_edge"),
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
        fault="wrong_signal", criterion="spectrum_wrong_signal", from_strength=1, why="all grades are the same",
        counts=_other_half, only="in the other half of the beat",
    ),
    DopplerCase(
        fault="no_guide", criterion="spectrum_guide", from_strength=1, why="the picture is there or not"
    ),
)  # fmt: skip


UNCLAIMED = (
    Unclaimed(
        fault="colour_frame_rate_low", criterion="colour_rate",
        why="its limit is a number of pictures a second, and a packet twice as long leaves a fast machine above it",
    ),
    Unclaimed(fault="spectral_filter_low", criterion="", why="walls at the baseline are looked for by no criterion"),
    Unclaimed(
        fault="wrong_signal", criterion="spectrum_wrong_signal",
        why="all such clips: left and right run at one time, and are not told apart",
    ),
)  # fmt: skip


def doppler_criteria() -> tuple[str, ...]:
    """Return every criterion of Doppler clips that the engine has."""
    house = load_house()
    return tuple(key for name in DOPPLER_FAMILY_NAMES for key in read_family(house, name))


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
