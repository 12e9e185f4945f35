"""What the machine hands on of colour Doppler: the estimate by frame, depth and line, before it is painted."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fanlight.simulate.colour.colour_setting import ColourSetting, mirrored_setting
from fanlight.simulate.machine.beams import Beams

Floats = NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True)
class ColourGeometry:
    """How the cells of the estimate lie: sample i at first_mm + i · step_mm below the face, line j as in a box.

    Line j is the middle of its share of the box's width: left_deg + (j + 0.5) / n_lines · width.
    """

    apex_mm: float  # of the lines, behind the face
    first_mm: float
    step_mm: float
    left_deg: float
    right_deg: float
    n_samples: int
    n_lines: int

    @property
    def depths_mm(self) -> NDArray[np.float64]:
        """Depth of each sample below the face."""
        return np.asarray(self.first_mm + np.arange(self.n_samples) * self.step_mm)

    @property
    def angles_deg(self) -> NDArray[np.float64]:
        """Angle of each line from the central beam."""
        share = (np.arange(self.n_lines) + 0.5) / self.n_lines
        return np.asarray(self.left_deg + share * (self.right_deg - self.left_deg))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ColourBeams:
    """A clip of colour Doppler as the machine forms it, with the grey picture under it."""

    correlation: NDArray[np.complex64]  # (frame, depth, line): lag one over power; its angle is the velocity
    power_db: Floats  # (frame, depth, line) after the wall filter, over the receiver's noise at the far end of the box
    geometry: ColourGeometry
    setting: ColourSetting
    threshold_db: float  # colour is shown where the power lies above it
    grey: Beams

    @property
    def velocity_m_s(self) -> Floats:
        """Along the beam, towards the probe positive, inside the shown range: what lies beyond it is wrapped."""
        scale = self.setting.scale_m_s
        low = self.setting.range_m_s[0]
        velocity = np.angle(self.correlation) * (scale / np.pi)
        return np.asarray((velocity - low) % (2 * scale) + low, np.float32)

    @property
    def variance(self) -> Floats:
        """Scatter of the velocities in a packet, 0 to 1: 1 - |R1| / R0, noise not counted."""
        return np.asarray(1.0 - np.abs(self.correlation), np.float32)

    @property
    def is_flow(self) -> NDArray[np.bool_]:
        """Whether the power passes the threshold; the grey picture may still claim the place."""
        return np.asarray(self.power_db > self.threshold_db)

    @property
    def times_ms(self) -> tuple[float, ...]:
        """When each frame was taken."""
        return self.grey.times_ms


def mirrored(beams: ColourBeams) -> ColourBeams:
    """Return the clip as it looks when the picture was flipped on the console."""
    lines, geometry = beams.grey.geometry, beams.geometry
    grey = replace(
        beams.grey,
        levels=np.ascontiguousarray(beams.grey.levels[:, :, ::-1]),
        geometry=replace(lines, left_deg=-lines.right_deg, right_deg=-lines.left_deg),
    )
    return replace(
        beams,
        correlation=np.ascontiguousarray(beams.correlation[:, :, ::-1]),
        power_db=np.ascontiguousarray(beams.power_db[:, :, ::-1]),
        geometry=replace(geometry, left_deg=-geometry.right_deg, right_deg=-geometry.left_deg),
        setting=mirrored_setting(beams.setting),
        grey=grey,
    )
