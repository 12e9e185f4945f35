"""Scenes with known flow: tubes, jets, beating walls, a leaflet that flips; the probe's frame is the patient's."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from fanlight.heart.motion import Motion
from fanlight.heart.sampled import Sampled
from fanlight.heart.tissue import Tissue
from fanlight.simulate.machine.scene import Scene

Course = Callable[[float], float]  # of the time in ms


def _steady(_: float) -> float:
    return 0.0


@dataclass(frozen=True, kw_only=True)
class Tube:
    """Blood that streams along an axis through muscle."""

    middle_mm: tuple[float, float, float]
    axis: tuple[float, float, float]  # direction of flow, of any length
    radius_mm: float
    peak_cm_s: Course
    plug: bool = True  # else a parabola: the peak flows in the middle only
    unsteady_cm_s: float = 0.0
    wall_mm: Course = _steady  # how far the wall has moved away from the probe, mm
    wall_cm_s: Course = _steady

    def _aside(self, x, y, z):
        axis = np.asarray(self.axis) / np.linalg.norm(self.axis)
        off = np.stack([x, y, z], axis=-1) - np.asarray(self.middle_mm)
        along = off @ axis
        return np.sqrt(np.maximum((off**2).sum(axis=-1) - along**2, 0)), axis

    def scene(self) -> Scene:
        def sample(state, x, y, z):
            aside, _ = self._aside(x, y, z - self.wall_mm(state.time_ms))
            inside = aside < self.radius_mm
            return Sampled(
                tissue=np.where(inside, int(Tissue.LV_CAVITY), int(Tissue.SEPTUM)).astype(np.uint8),
                edge_mm=np.abs(aside - self.radius_mm).astype(np.float32),
                material_mm=(x, y, z),
            )

        return Scene(moving=sample)

    def motion(self, time_ms, x, y, z, tissue=None) -> Motion:
        aside, axis = self._aside(x, y, z - self.wall_mm(time_ms))
        inside = aside < self.radius_mm
        share = np.ones_like(aside) if self.plug else 1 - (aside / self.radius_mm) ** 2
        speed = np.where(inside, 10 * self.peak_cm_s(time_ms) * share, 0.0)
        wall = np.where(inside, 0.0, 10 * self.wall_cm_s(time_ms))
        across, along, down = (np.asarray(speed * part, np.float32) for part in axis)
        return Motion(
            velocity_mm_s=(across, along, np.asarray(down + wall, np.float32)),
            unsteady_mm_s=np.where(inside, 10 * self.unsteady_cm_s, 0.0).astype(np.float32),
        )


def towards_probe(angle_deg: float, turn_deg: float = 0.0) -> tuple[float, float, float]:
    """Direction of flow towards a probe that looks down z, at an angle to its central beam, turned about it."""
    angle, turn = math.radians(angle_deg), math.radians(turn_deg)
    return (math.sin(angle) * math.cos(turn), math.sin(angle) * math.sin(turn), -math.cos(angle))


def joined(*parts: tuple[Callable[..., Any] | None, Scene, Callable[..., Any]]):
    """Scene and motion of bodies side by side: each is (inside(x, y, z), scene, motion); the last is the ground."""

    def sample(state, x, y, z):
        out = parts[-1][1].moving(state, x, y, z)
        tissue = out.tissue
        for inside, scene, _ in reversed(parts[:-1]):
            assert inside is not None
            tissue = np.where(inside(x, y, z), scene.moving(state, x, y, z).tissue, tissue)
        return Sampled(tissue=tissue, edge_mm=out.edge_mm, material_mm=(x, y, z))

    def motion(time_ms, x, y, z, tissue=None):
        out = parts[-1][2](time_ms, x, y, z)
        velocity, unsteady = out.velocity_mm_s, out.unsteady_mm_s
        for inside, _, moves in reversed(parts[:-1]):
            own, here = moves(time_ms, x, y, z), inside(x, y, z)
            velocity = tuple(np.where(here, a, b) for a, b in zip(own.velocity_mm_s, velocity, strict=True))
            unsteady = np.where(here, own.unsteady_mm_s, unsteady)
        return Motion(velocity_mm_s=velocity, unsteady_mm_s=unsteady)

    return Scene(moving=sample), motion


def leaflet_that_flips(tube: Tube, *, cross_ms: float, lasts_ms: float):
    """Scene and motion of a tube through which a leaflet, 1.5 mm thick, swings once: it passes the middle at a time."""
    speed_mm_s = 1000 * 10.0 / lasts_ms

    def place(time_ms):  # of its middle, above the tube's
        return float(np.clip((time_ms - cross_ms) / 1000 * speed_mm_s, -12.0, 12.0))

    def inside(time_ms, z):
        return np.abs(z - tube.middle_mm[2] - place(time_ms)) < 0.75

    def sample(state, x, y, z):
        out = tube.scene().moving(state, x, y, z)
        label = np.where(inside(state.time_ms, z), np.uint8(Tissue.MITRAL_SEPTAL_LEAFLET), out.tissue)
        return Sampled(tissue=label, edge_mm=out.edge_mm, material_mm=(x, y, z))

    def motion(time_ms, x, y, z, tissue=None):
        out = tube.motion(time_ms, x, y, z)
        swings = speed_mm_s if abs(place(time_ms)) < 12.0 else 0.0
        own = inside(time_ms, z)
        vx, vy, vz = out.velocity_mm_s
        return Motion(
            velocity_mm_s=(np.where(own, 0, vx), np.where(own, 0, vy), np.where(own, swings, vz)),
            unsteady_mm_s=np.where(own, 0, out.unsteady_mm_s),
        )

    return Scene(moving=sample), motion
