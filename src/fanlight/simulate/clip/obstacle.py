"""Put lung or a rib before part of the picture, whatever the animal's own thorax has there."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import array_api_compat

from fanlight.heart.cycle_state import CycleState
from fanlight.heart.pose import Pose
from fanlight.heart.sampled import Sampled
from fanlight.heart.tissue import Tissue
from fanlight.simulate.clip.clip_setting import Cover, Obstacle
from fanlight.simulate.machine.beams import LineGeometry
from fanlight.simulate.machine.scene import Scene

Array = Any

# A full breath brings the lung margin this much further over the heart, as a share of what is covered in expiration
# (engineering judgement: the margin must be seen to slide, as a lung does).
LUNG_BREATH_FRACTION = 0.5
# Depth of a rib, as shares of the wall's thickness: skin, fat and the outer muscles lie over it (anatomy; how much is
# engineering judgement).
_RIB_FROM, _RIB_TO = 0.6, 1.0


def cover(scene: Scene, obstacles: tuple[Obstacle, ...], pose: Pose, lines: LineGeometry, wall_mm: float) -> Scene:
    """Return the scene with these obstacles in it.

    Parameters
    ----------
    scene : Scene
        What lies before the probe.
    obstacles : tuple of Obstacle
        Their places count in the picture that the probe gives at `pose`; they stay there when the probe moves.
    pose : Pose
        Where the probe stands.
    lines : LineGeometry
        How the picture's lines lie.
    wall_mm : float
        Thickness of the chest wall: lung begins below it, a rib lies in it.
    """
    if not obstacles:
        return scene
    still = scene.still

    def hidden(breath: float, x: Array, y: Array, z: Array, cover_kind: Cover) -> tuple[Array, Array]:
        """Return where this cover lies, and how deep in it each point is."""
        xp = array_api_compat.array_namespace(x)
        origin, ax, az = pose.origin_mm, pose.x, pose.z
        dx, dy, dz = x - float(origin[0]), y - float(origin[1]), z - float(origin[2])
        across = dx * float(ax[0]) + dy * float(ax[1]) + dz * float(ax[2])
        depth = dx * float(az[0]) + dy * float(az[1]) + dz * float(az[2])
        angle = xp.atan2(across, depth + lines.apex_mm)
        if cover_kind is Cover.LUNG:
            # The pleura lies half as slanted to the outer beams as a plane would: the wall is pressed in by the face.
            edge = 0.5 * (depth + xp.sqrt(across**2 + (depth + lines.apex_mm) ** 2) - lines.apex_mm) - wall_mm
        else:
            middle, half = (_RIB_FROM + _RIB_TO) / 2 * wall_mm, (_RIB_TO - _RIB_FROM) / 2 * wall_mm
            edge = half - xp.abs(depth - middle)
        inside = xp.zeros_like(x, dtype=xp.bool)
        for item in obstacles:
            if item.cover is cover_kind:
                left, right = _edges_rad(item, lines, 1 + LUNG_BREATH_FRACTION * breath)
                inside = xp.logical_or(inside, xp.logical_and(angle > left, angle < right))
        return xp.logical_and(inside, edge > 0), edge

    def moving(state: CycleState, x: Array, y: Array, z: Array) -> Sampled:
        xp = array_api_compat.array_namespace(x)
        seen = scene.moving(state, x, y, z)
        hide, _ = hidden(state.breath, x, y, z, Cover.LUNG)
        if any(item.cover is Cover.RIB for item in obstacles):
            hide = xp.logical_or(hide, hidden(state.breath, x, y, z, Cover.RIB)[0])
        outside = xp.asarray(int(Tissue.OUTSIDE), dtype=seen.tissue.dtype)
        return replace(seen, tissue=xp.where(hide, outside, seen.tissue))

    def around(breath: float, x: Array, y: Array, z: Array) -> Sampled:
        xp = array_api_compat.array_namespace(x)
        if still is None:
            nowhere = xp.zeros_like(x)
            seen = Sampled(tissue=xp.astype(nowhere, xp.uint8), edge_mm=nowhere, material_mm=(x, y, z))
        else:
            seen = still(breath, x, y, z)
        tissue, edge = seen.tissue, seen.edge_mm
        for kind, label in ((Cover.LUNG, Tissue.LUNG), (Cover.RIB, Tissue.RIB)):
            inside, own_edge = hidden(breath, x, y, z, kind)
            tissue = xp.where(inside, xp.asarray(int(label), dtype=tissue.dtype), tissue)
            edge = xp.where(inside, xp.astype(own_edge, edge.dtype), edge)
        return replace(seen, tissue=tissue, edge_mm=edge)

    return Scene(moving=moving, still=around)


def _edges_rad(item: Obstacle, lines: LineGeometry, grown: float) -> tuple[float, float]:
    """Return the edges of the covered part; lung comes from the edge of the picture that it touches, a rib stays."""
    width = lines.right_deg - lines.left_deg
    low, high = item.at_fraction - item.share_fraction / 2, item.at_fraction + item.share_fraction / 2
    if item.cover is Cover.RIB:
        pass
    elif low <= 0.01:
        low, high = -1.0, high * grown  # beyond the edge: nothing shows through beside it
    elif high >= 0.99:
        low, high = 1 - (1 - low) * grown, 2.0
    return math.radians(lines.left_deg + low * width), math.radians(lines.left_deg + high * width)
