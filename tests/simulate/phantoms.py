"""Drawn phantoms for the machine, with known truth: even blocks, threads, cysts, layers, a beating stand-in heart."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import array_api_compat.numpy
import numpy as np

from fanlight.heart.cycle_state import CycleState
from fanlight.heart.pose import Pose, look
from fanlight.heart.sampled import Sampled
from fanlight.heart.tissue import Tissue
from fanlight.simulate.machine.beams import line_geometry
from fanlight.simulate.machine.console import Console
from fanlight.simulate.machine.contact import FULL_CONTACT, Contact
from fanlight.simulate.machine.image_former import AnatomyView, amplitudes, make_former
from fanlight.simulate.machine.probe import Probe
from fanlight.simulate.machine.scene import Scene
from fanlight.simulate.machine.tissue_echo import Echo, echo_table

Array = Any
DOWN = Pose(origin_mm=np.zeros(3), axes=np.eye(3))  # the probe's frame is the patient's


def state(time_ms: float = 0.0, contraction: float = 0.0, breath: float = 0.0) -> CycleState:
    return CycleState(
        time_ms=time_ms, beat=0, phase=0.0, contraction=contraction, right_contraction=contraction,
        base_descent=contraction, atrial_filling=contraction, mitral_opening=0.0, tricuspid_opening=0.0,
        aortic_opening=0.0, pulmonic_opening=0.0, breath=breath,
    )  # fmt: skip


def even(xp: Any, label: Tissue = Tissue.SEPTUM, shift_mm: Callable[[float], Any] | None = None) -> Scene:
    """One tissue everywhere; `shift_mm(time_ms)` is how far it has been pushed."""

    def sample(at: CycleState, x: Array, y: Array, z: Array) -> Sampled:
        dx, dy, dz = shift_mm(at.time_ms) if shift_mm else (0.0, 0.0, 0.0)
        return Sampled(
            tissue=xp.full(x.shape, int(label), dtype=xp.uint8),
            edge_mm=xp.full(x.shape, 50.0, dtype=xp.float32),
            material_mm=(x - dx, y - dy, z - dz),
        )

    return Scene(moving=sample)


def painted(xp: Any, parts: Sequence[tuple[Tissue, Callable[[Array, Array, Array], Array]]], ground: Tissue) -> Scene:
    """Bodies laid over a ground: each is a label and a signed distance in mm, negative inside."""

    def sample(at: CycleState, x: Array, y: Array, z: Array) -> Sampled:
        tissue = xp.full(x.shape, int(ground), dtype=xp.uint8)
        edge = xp.full(x.shape, 50.0, dtype=xp.float32)
        for label, distance in parts:
            d = xp.astype(distance(x, y, z), xp.float32)
            inside = d < 0
            tissue = xp.where(inside, xp.asarray(int(label), dtype=xp.uint8), tissue)
            edge = xp.where(inside, -d, xp.minimum(edge, d))
        return Sampled(tissue=tissue, edge_mm=edge, material_mm=(x, y, z))

    return Scene(moving=sample)


def ball(centre_mm: Sequence[float], radius_mm: float) -> Callable[[Array, Array, Array], Array]:
    cx, cy, cz = centre_mm
    return lambda x, y, z: ((x - cx) ** 2 + (y - cy) ** 2 + (z - cz) ** 2) ** 0.5 - radius_mm


def slab(from_mm: float, to_mm: float) -> Callable[[Array, Array, Array], Array]:
    middle, half = (from_mm + to_mm) / 2, (to_mm - from_mm) / 2
    return lambda x, y, z: ((z - middle) ** 2) ** 0.5 - half


def stand_in_heart(xp: Any, with_lung: bool = True, with_rib: bool = False) -> Scene:
    """Chest wall, a beating thick-walled egg with valve and pericardium, fat and lung; sizes of a 10 kg dog."""

    def sample(at: CycleState, x: Array, y: Array, z: Array) -> Sampled:
        c = at.contraction
        tissue = xp.full(x.shape, int(Tissue.FAT), dtype=xp.uint8)
        edge = xp.full(x.shape, 20.0, dtype=xp.float32)

        def lay(label: Tissue, d: Array, tissue: Array, edge: Array) -> tuple[Array, Array]:
            inside = d < 0
            return (
                xp.where(inside, xp.asarray(int(label), dtype=xp.uint8), tissue),
                xp.where(inside, -d, xp.minimum(edge, d)),
            )

        def egg(cx: float, cz: float, ax: float, ay: float, az: float) -> Array:
            q = (((x - cx) / ax) ** 2 + (y / ay) ** 2 + ((z - cz) / az) ** 2) ** 0.5
            return (q - 1) * min(ax, ay, az)

        far = z - (80.0 + 0.002 * x * x)
        if with_lung:
            tissue, edge = lay(Tissue.LUNG, 14.0 - z + xp.where(xp.abs(x) < 24, 60.0, 0.0 * x), tissue, edge)
            tissue, edge = lay(Tissue.LUNG, -far, tissue, edge)
        tissue, edge = lay(Tissue.PERICARDIUM, egg(0, 46, 39.5, 29.5, 32.5), tissue, edge)
        tissue, edge = lay(Tissue.LV_FREE_WALL, egg(0, 46, 38.5, 28.5, 31.5), tissue, edge)
        k = 1 - 0.3 * c
        tissue, edge = lay(Tissue.LV_CAVITY, egg(-6, 52, 27 * k, 14 * k, 14 * k), tissue, edge)
        tissue, edge = lay(Tissue.RV_CAVITY, egg(0, 26, 26 * k, 12 * k, 7 * k), tissue, edge)
        tissue, edge = lay(Tissue.LA_CAVITY, egg(24, 58, 10, 10, 10), tissue, edge)
        leaf = xp.abs(z - 52 - 0.4 * (x - 14)) - 0.5
        leaf = xp.maximum(leaf, xp.abs(x - 13) - 6)
        tissue, edge = lay(Tissue.MITRAL_SEPTAL_LEAFLET, leaf, tissue, edge)
        tissue, edge = lay(Tissue.CHEST_WALL, z - 10.0, tissue, edge)
        if with_rib:
            tissue, edge = lay(Tissue.RIB, ((x - 8) ** 2 + (z - 7) ** 2) ** 0.5 - 2.5, tissue, edge)
        return Sampled(
            tissue=tissue,
            edge_mm=xp.astype(edge, xp.float32),
            material_mm=(x * (1 + 0.15 * c), y * (1 + 0.15 * c), 46 + (z - 46) * (1 + 0.2 * c)),
        )

    return Scene(moving=sample)


PLAIN = Echo(scatter_db=0.0, impedance_mrayl=1.65, attenuation_db=0.5)  # speckle and nothing else


def amplitude(
    scene: Scene,
    probe: Probe,
    console: Console,
    seed: int,
    *,
    states: Sequence[CycleState] = (state(),),
    echoes: dict[Tissue, Echo] | None = None,
    contact: Contact = FULL_CONTACT,
    xp: Any = array_api_compat.numpy,
) -> Any:
    """Detected amplitude (frame, sample, line) before compression, with depth gain."""
    rng = np.random.default_rng(seed)
    table = echo_table(xp, echoes) if echoes else None
    former = make_former(xp, probe, console, line_geometry(probe, console), DOWN, contact, rng, table)
    view = AnatomyView(scene, former.grid, xp)
    return xp.stack(amplitudes(former, [view.seen(at, DOWN) for at in states], rng), axis=0)


__all__ = ["DOWN", "PLAIN", "amplitude", "ball", "even", "look", "painted", "slab", "stand_in_heart", "state"]
