"""What the operator sets for colour Doppler, and what follows from it: pulses a second, scale, pictures a second.

A pulse is sent only when the echo of the last one has come back from the far end of the box, so depth, scale and
frequency hang together: the highest scale is c² / (8 · depth · frequency).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

from fanlight.simulate.colour.colour_map import COLOUR_MAPS
from fanlight.simulate.machine.beams import line_geometry
from fanlight.simulate.machine.console import Console
from fanlight.simulate.machine.probe import SPEED_MM_S, Probe

SPEED_M_S = SPEED_MM_S / 1000.0
# Doppler is sent 20 to 50 % lower than the picture, because low frequencies carry a higher scale and come deeper
# (common practice, no source).
DOPPLER_SHARE = 0.65
USUAL_SCALE_M_S = 0.7  # between the 50 to 70 cm/s and 80 to 90 cm/s that teachers give for a mitral valve
_LINE_DEG = 1.2  # distance of colour lines: about half a beam (engineering judgement)
_ROUNDING = 1e-6  # share by which a setting may pass its limit: rounding of numbers on the way


@dataclass(frozen=True, slots=True, kw_only=True)
class ColourBox:
    """Where colour is looked for: between two beams and two depths, as `LineGeometry` counts them.

    Raises
    ------
    ValueError
        If the edges are not in order.
    """

    left_deg: float
    right_deg: float
    near_mm: float  # from the face
    far_mm: float

    def __post_init__(self) -> None:
        if not self.left_deg < self.right_deg:
            raise ValueError(
                f"colour box: the left edge must lie left of the right one, got {self.left_deg:g} and "
                f"{self.right_deg:g} degrees"
            )
        if not 0 <= self.near_mm < self.far_mm:
            raise ValueError(
                f"colour box: the near edge must lie at 0 mm or deeper and above the far one, got {self.near_mm:g} and "
                f"{self.far_mm:g} mm"
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class ColourSetting:
    """Settings of colour Doppler in one clip.

    Raises
    ------
    ValueError
        If a setting cannot be made on a machine; the message names the setting and its limits.
    """

    box: ColourBox
    frequency_mhz: float  # sent for Doppler
    scale_m_s: float  # velocity along the beam at which colour wraps, with the baseline in the middle
    n_lines: int  # in the box
    lines_per_pulse: int = 2  # received in parallel
    ensemble: int = 10  # pulses a line: the packet
    # 0: specks just vanish. What the threshold is lowered by.
    gain_db: float = 0.0
    wall_filter_order: int = 2  # of the polynomial that is taken off each packet: what moves slowly goes
    # Grey level up to which colour is written over the picture, 0 to 1; brighter pixels are taken for tissue.
    priority_fraction: float = 0.45
    suppresses_tissue: bool = True  # strong echoes that the wall filter leaves slow are taken for tissue
    persistence_fraction: float = 0.3  # of the last picture's colour that stays
    smoothing: int = 1  # neighbours to each side over which the estimate is averaged
    baseline_shift_fraction: float = 0.0  # of the scale; above 0 there is more room for flow towards the probe
    map_key: str = "ember"
    is_inverted: bool = False  # flow towards the probe has the colours of flow away
    pulse_cycles: float = field(default=4.0)  # Doppler pulses are longer than those of the picture

    def __post_init__(self) -> None:
        for name, low, high in (
            ("frequency_mhz", 0.8, 15.0), ("scale_m_s", 0.02, 5.0), ("n_lines", 8, 256), ("lines_per_pulse", 1, 16),
            ("ensemble", 4, 32), ("gain_db", -40.0, 40.0), ("wall_filter_order", 0, 6), ("priority_fraction", 0.0, 1.0),
            ("persistence_fraction", 0.0, 0.95), ("smoothing", 0, 5), ("baseline_shift_fraction", -0.95, 0.95),
            ("pulse_cycles", 1.0, 16.0),
        ):  # fmt: skip
            value = getattr(self, name)
            if not low <= value <= high:
                raise ValueError(f"colour: {name} must lie between {low} and {high}, got {value}")
        if self.wall_filter_order + 3 > self.ensemble:
            raise ValueError(
                f"colour: a packet of {self.ensemble} pulses carries a wall filter of order {self.ensemble - 3} at "
                f"most, got {self.wall_filter_order}"
            )
        if self.map_key not in COLOUR_MAPS:
            raise ValueError(f"colour: there is no map {self.map_key!r}; there are {', '.join(sorted(COLOUR_MAPS))}")
        most = most_scale_m_s(self.box.far_mm, self.frequency_mhz)
        if self.scale_m_s > most * (1 + _ROUNDING):
            raise ValueError(
                f"colour: a scale of {self.scale_m_s:.2f} m/s cannot be had at {self.box.far_mm:.0f} mm with "
                f"{self.frequency_mhz:.1f} MHz; {most:.2f} m/s is the most. Make the box shallower or the frequency "
                "lower"
            )

    @property
    def prf_hz(self) -> float:
        """Pulses a second along one line: 4 · frequency · scale / c (Doppler equation at half the pulse rate)."""
        return 4.0 * self.frequency_mhz * 1e6 * self.scale_m_s / SPEED_M_S

    @property
    def range_m_s(self) -> tuple[float, float]:
        """Lowest and highest velocity that the map shows; they are 2 · scale apart, above 0 towards the probe."""
        shift = self.baseline_shift_fraction * self.scale_m_s
        return shift - self.scale_m_s, shift + self.scale_m_s


def most_prf_hz(depth_mm: float) -> float:
    """Return the most pulses a second with one in flight: c / (2 · depth) (time of flight; physics)."""
    return SPEED_MM_S / (2.0 * depth_mm)


def most_scale_m_s(depth_mm: float, frequency_mhz: float) -> float:
    """Return the highest velocity that is not wrapped: c · PRF / (4 · frequency) at the most pulses a second.

    References
    ----------
    .. [Kasai1985] C. Kasai and others, IEEE Trans. Sonics Ultrason. 1985; 32: 458-464.

    Examples
    --------
    >>> round(most_scale_m_s(100.0, 5.0), 2)
    0.59
    """
    return SPEED_M_S * most_prf_hz(depth_mm) / (4.0 * frequency_mhz * 1e6)


def colour_frame_rate_hz(console: Console, setting: ColourSetting) -> float:
    """Return the pictures a second of grey and colour together.

    The grey picture takes its pulses, then each group of colour lines its packet. While a line waits for its next
    pulse, others are served, as many as the depth leaves time for. At the highest scale and with a box as deep as the
    picture this is c / (2 · depth · (grey pulses + colour pulses · packet)).
    """
    pulses = setting.n_lines / setting.lines_per_pulse
    side_by_side = max(1, math.floor(most_prf_hz(setting.box.far_mm) / setting.prf_hz * (1 + _ROUNDING)))
    rounds = max(pulses / side_by_side, 1.0)
    return 1.0 / (1.0 / console.frame_rate_hz + rounds * setting.ensemble / setting.prf_hz)


def check_box(probe: Probe, console: Console, setting: ColourSetting) -> None:
    """Raise ValueError where the box does not lie inside the picture."""
    lines, box = line_geometry(probe, console), setting.box
    slack = 1e-6
    if box.left_deg < lines.left_deg - slack or box.right_deg > lines.right_deg + slack:
        raise ValueError(
            f"colour box: {box.left_deg:g} to {box.right_deg:g} degrees does not lie inside the picture's "
            f"{lines.left_deg:g} to {lines.right_deg:g}"
        )
    if box.far_mm > lines.depth_mm + slack:
        raise ValueError(f"colour box: {box.far_mm:g} mm is deeper than the picture, {lines.depth_mm:g} mm")


def default_colour(console: Console, box: ColourBox) -> ColourSetting:
    """Return settings that a steady hand would choose for this box."""
    echo = console.frequency_mhz * (2.0 if console.is_harmonic else 1.0)
    frequency = round(max(DOPPLER_SHARE * echo, 1.0), 1)
    most = most_scale_m_s(box.far_mm, frequency)
    n_lines = 2 * round(max((box.right_deg - box.left_deg) / _LINE_DEG, 8) / 2)
    return ColourSetting(
        box=box,
        frequency_mhz=frequency,
        scale_m_s=min(USUAL_SCALE_M_S, math.floor(most * 100) / 100),
        n_lines=n_lines,
    )


def mirrored_setting(setting: ColourSetting) -> ColourSetting:
    """Return the setting of a picture that was flipped on the console: its box lies on the other side."""
    box = setting.box
    return replace(setting, box=replace(box, left_deg=-box.right_deg, right_deg=-box.left_deg))
