"""What the operator sets on the simulated machine, and what follows from it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from fanlight.simulate.machine.probe import SPEED_MM_S, ArrayKind, Probe
from fanlight.study import Species

N_TGC = 8  # sliders, from near to far, each at the middle of an eighth of the depth


class GreyMap(StrEnum):
    """Our own curves from echo level to grey."""

    EVEN = "even"  # straight in decibels
    SOFT = "soft"  # lifts the weak echoes
    STEEP = "steep"  # S-shaped: darkens the weak, brightens the strong


@dataclass(frozen=True, slots=True, kw_only=True)
class Console:
    """Settings of one clip.

    Raises
    ------
    ValueError
        If a setting cannot be made on a machine; the message names the setting and its limits.
    """

    depth_mm: float
    width_deg: float
    frequency_mhz: float  # sent; with harmonics, echoes of twice this make the picture
    focus_mm: float
    steer_deg: float = 0.0  # turns the whole sector, positive towards the marker
    is_harmonic: bool = False
    gain_db: float = 0.0
    tgc_db: tuple[float, ...] = (0.0,) * N_TGC
    # Most that the time-gain amplifier does, depth gain and sliders together. Below the end of penetration more gain
    # would only show more noise, so consoles end it there (engineering judgement: 60 to 70 dB).
    depth_gain_most_db: float = 60.0
    dynamic_range_db: float = 60.0
    grey_map: GreyMap = GreyMap.STEEP
    n_lines: int = 128
    n_samples: int = 448
    lines_per_pulse: int = 2  # lines received in parallel
    n_foci: int = 1  # transmit foci, each with its own pulse
    n_looks: int = 1  # directions averaged: compounding
    persistence_fraction: float = 0.0  # of the last picture that stays
    edge_enhancement_fraction: float = 0.0
    reject_fraction: float = 0.0  # of the display range, shown black

    def __post_init__(self) -> None:
        for name, low, high in (
            ("depth_mm", 10.0, 400.0), ("width_deg", 5.0, 120.0), ("frequency_mhz", 1.0, 20.0),
            ("focus_mm", 2.0, 400.0), ("steer_deg", -45.0, 45.0), ("gain_db", -60.0, 60.0),
            ("dynamic_range_db", 20.0, 120.0), ("n_lines", 8, 512), ("n_samples", 32, 2048), ("lines_per_pulse", 1, 64),
            ("depth_gain_most_db", 20.0, 120.0), ("n_foci", 1, 8), ("n_looks", 1, 9),
            ("persistence_fraction", 0.0, 0.95), ("edge_enhancement_fraction", 0.0, 1.0), ("reject_fraction", 0.0, 0.9),
        ):  # fmt: skip
            value = getattr(self, name)
            if not low <= value <= high:
                raise ValueError(f"console: {name} must lie between {low} and {high}, got {value}")
        if len(self.tgc_db) != N_TGC:
            raise ValueError(f"console: {N_TGC} TGC sliders are needed, got {len(self.tgc_db)}")

    @property
    def frame_rate_hz(self) -> float:
        """Pictures a second: c·M / (2·depth·lines·foci·looks), M lines received at once (time of flight; physics)."""
        pulses = self.n_lines * self.n_foci * self.n_looks / self.lines_per_pulse
        return SPEED_MM_S / (2.0 * self.depth_mm * pulses)

    @property
    def sample_mm(self) -> float:
        """Distance between samples along a line."""
        return self.depth_mm / self.n_samples


def frame_rate_hz(console: Console) -> float:
    """Return the pictures a second that these settings allow."""
    return console.frame_rate_hz


def default_depth_mm(species: Species, weight_kg: float) -> float:
    """Return the depth that shows a heart from the right side with a little room below.

    94 mm at 10 kg, by the cube root of weight; cats a quarter less. Engineering judgement, inside the ranges in use:
    cats 3 to 6 cm, small dogs 5 to 9, medium 8 to 13, large 11 to 18.
    """
    size = float((weight_kg / 10.0) ** (1 / 3))
    return round((72.0 if species is Species.CAT else 94.0) * size, 1)


def default_console(
    probe: Probe, species: Species, weight_kg: float, depth_mm: float | None = None, *, is_harmonic: bool = False
) -> Console:
    """Return settings that a steady hand would choose for this animal.

    Frequency falls with size (about 9 MHz at 3 kg, 6 at 10 kg, 4 at 40 kg: common practice, no source), within the
    range of the probe; the focus lies at 60 % of the depth; samples lie closer than the pulse is long.
    """
    depth = depth_mm or default_depth_mm(species, weight_kg)
    wished = float(6.3 * (weight_kg / 10.0) ** (-1 / 3))
    # a harmonic picture is sent low, so that its echoes, twice as high, are what is wished for
    frequency = min(max(wished * (0.5 if is_harmonic else 1.0), probe.low_mhz), probe.high_mhz)
    echo = frequency * (2.0 if is_harmonic else 1.0)
    pulse_mm = probe.pulse_cycles * SPEED_MM_S / (echo * 1e6) / 2
    return Console(
        depth_mm=depth,
        width_deg=min(76.0, probe.widest_deg),
        frequency_mhz=round(frequency, 1),
        focus_mm=round(0.6 * depth, 1),
        is_harmonic=is_harmonic,
        n_samples=int(min(max(depth / (0.65 * pulse_mm), 320), 640) // 16 * 16),  # 0.65 pulse: see field.py
        n_lines=128 if probe.kind is ArrayKind.PHASED else 112,
    )
