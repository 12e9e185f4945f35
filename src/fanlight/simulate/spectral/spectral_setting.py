"""What the operator sets for a spectrum, and what physics allows: gate, pulse rate, scale, filter, display."""

from __future__ import annotations

from dataclasses import dataclass

from fanlight.simulate.machine.console import GreyMap
from fanlight.simulate.machine.probe import SPEED_MM_S
from fanlight.study import Mode

SPECTRAL_MODES = (Mode.PULSED_WAVE, Mode.CONTINUOUS_WAVE, Mode.TISSUE_DOPPLER)
_GATED = (Mode.PULSED_WAVE, Mode.TISSUE_DOPPLER)
_SPEED_CM_S = SPEED_MM_S / 10
_WITHIN = 1 + 1e-9  # numerical: a scale set to its very limit is allowed


def doppler_hz(velocity_cm_s: float, frequency_mhz: float) -> float:
    """Return the Doppler shift 2·f·v / c of what moves along the beam (physics)."""
    return 2e6 * frequency_mhz * velocity_cm_s / _SPEED_CM_S


def highest_pulse_hz(depth_mm: float) -> float:
    """Return the pulses a second of which each comes back from a depth before the next is sent: c / (2·depth)."""
    if depth_mm <= 0:
        raise ValueError(f"depth must lie above 0, got {depth_mm} mm")
    return SPEED_MM_S / (2 * depth_mm)


def nyquist_cm_s(pulse_hz: float, frequency_mhz: float) -> float:
    """Return the speed along the beam from which a pulsed spectrum wraps: c·PRF / (4·f) (sampling theorem)."""
    return _SPEED_CM_S * pulse_hz / (4e6 * frequency_mhz)


@dataclass(frozen=True, slots=True, kw_only=True)
class SpectralSetting:
    """Settings of one spectrum.

    Raises
    ------
    ValueError
        If a setting cannot be made on a machine, or the scale asks for more pulses than the depth of the gate allows;
        the message names the setting and its limits.
    """

    mode: Mode  # pulsed wave, continuous wave or tissue Doppler
    frequency_mhz: float  # sent; lower than that of the picture as a rule
    scale_cm_s: float  # half of what the display spans; pulsed: the Nyquist velocity
    gate_depth_mm: float  # from the face along the cursor to the middle of the gate; continuous: where the beams cross
    cursor_deg: float = 0.0  # from the central beam, positive towards the marker
    gate_mm: float = 2.0  # length along the cursor; not used by continuous wave
    baseline_fraction: float = 0.5  # of the height that lies above the baseline
    is_inverted: bool = False  # flow away from the probe upwards
    wall_filter_cm_s: float = 10.0  # cut-off of the high pass, as a velocity; tissue Doppler has none
    gain_db: float = 0.0
    dynamic_range_db: float = 40.0
    reject_fraction: float = 0.0  # of the display range, shown black
    grey_map: GreyMap = GreyMap.SOFT
    sweep_mm_s: float = 100.0
    corrected_deg: float = 0.0  # angle by which the scale is corrected; never for flow inside the heart

    def __post_init__(self) -> None:
        if self.mode not in SPECTRAL_MODES:
            raise ValueError(f"a spectrum is pulsed wave, continuous wave or tissue Doppler, not {self.mode}")
        for name, low, high in (
            ("frequency_mhz", 1.0, 20.0), ("scale_cm_s", 2.0, 1000.0), ("gate_depth_mm", 2.0, 400.0),
            ("gate_mm", 0.5, 20.0), ("baseline_fraction", 0.0, 1.0), ("wall_filter_cm_s", 0.1, 200.0),
            ("gain_db", -60.0, 60.0), ("dynamic_range_db", 10.0, 100.0), ("reject_fraction", 0.0, 0.9),
            ("sweep_mm_s", 10.0, 400.0), ("corrected_deg", -80.0, 80.0), ("cursor_deg", -60.0, 60.0),
        ):  # fmt: skip
            value = getattr(self, name)
            if not low <= value <= high:
                raise ValueError(f"spectrum: {name} must lie between {low} and {high}, got {value}")
        if not self.has_low_pass and self.wall_filter_cm_s >= 0.9 * self.scale_cm_s:
            raise ValueError(
                f"spectrum: the wall filter ({self.wall_filter_cm_s:g} cm/s) must lie below nine tenths of the scale "
                f"({self.scale_cm_s:g} cm/s), or nothing is left to show"
            )
        if self.is_gated:
            most = highest_scale_cm_s(self.gate_depth_mm, self.gate_mm, self.frequency_mhz)
            if self.scale_cm_s > most * _WITHIN:
                raise ValueError(
                    f"spectrum: a gate at {self.gate_depth_mm:g} mm allows {highest_pulse_hz(self.deepest_mm):.0f} "
                    f"pulses a second, a scale of {most:.1f} cm/s at {self.frequency_mhz:g} MHz, got "
                    f"{self.scale_cm_s:g} cm/s; lower the scale or the frequency, or use continuous wave "
                    "(several pulses under way at once are not simulated)"
                )

    @property
    def is_gated(self) -> bool:
        """Whether a gate picks a depth."""
        return self.mode in _GATED

    @property
    def has_low_pass(self) -> bool:
        """Whether tissue is kept and blood dropped."""
        return self.mode is Mode.TISSUE_DOPPLER

    @property
    def deepest_mm(self) -> float:
        """Depth of the far end of the gate."""
        return self.gate_depth_mm + (self.gate_mm / 2 if self.is_gated else 0.0)

    @property
    def sample_hz(self) -> float:
        """Samples a second of what is displayed; the pulse repetition frequency of pulsed modes."""
        return 2 * doppler_hz(self.scale_cm_s, self.frequency_mhz)

    @property
    def pulses_kept_one_of(self) -> int:
        """Tissue Doppler sends as often as the depth allows, so that its low pass can drop blood before it wraps."""
        if not self.has_low_pass:
            return 1
        return max(1, int(highest_pulse_hz(self.deepest_mm) / self.sample_hz * _WITHIN))


def highest_scale_cm_s(gate_depth_mm: float, gate_mm: float, frequency_mhz: float) -> float:
    """Return the largest scale of a pulsed spectrum: the Nyquist velocity at c / (2·far end of the gate)."""
    return nyquist_cm_s(highest_pulse_hz(gate_depth_mm + gate_mm / 2), frequency_mhz)
