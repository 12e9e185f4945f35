"""How fast the wall at a valve's ring truly runs along the beam: the truth of S', E' and A'.

A gate on a ring holds leaflets as well, which shine out and which, as the valve shuts, swing at twice the ring's speed:
what is fastest in the gate is then no ring. Walls of the heart count alone: what lies outside it and fluid about it
give no ring's echo. Where the gate holds leaflets only, the motion of the muscle that the ring carries along at their
places: of the left heart for the mitral valve, of the right ventricle's wall for the tricuspid.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import Akima1DInterpolator

from fanlight.heart.cycle import state_at
from fanlight.heart.tissue import BLOOD, NOT_HEART, Tissue
from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.clip.spectral_clip import motion_before, spectral_film
from fanlight.simulate.machine.animal_scene import scene_of
from fanlight.study import Mode, Valve
from measure._doppler_bench import PLACES, Bench, Rung, draw_bench, steady_rung
from measure._spectral_stills import MODES, Still
from measure._spectral_truth import ASKED_MS, GATE_POINTS, STEP_MS, TrueFlow, _beam, _heard_mm

# Leaflets, and the muscle as which they count.
MUSCLE_OF = {
    Tissue.MITRAL_SEPTAL_LEAFLET: Tissue.SEPTUM, Tissue.MITRAL_PARIETAL_LEAFLET: Tissue.SEPTUM,
    Tissue.TRICUSPID_LEAFLET: Tissue.RV_WALL,
}  # fmt: skip
LEAFLETS = tuple(MUSCLE_OF)
CHORDAE = (Tissue.MITRAL_CHORDAE, Tissue.TRICUSPID_CHORDAE)
NO_WALL = tuple(int(t) for t in (*BLOOD, *LEAFLETS, *CHORDAE, *NOT_HEART, Tissue.EFFUSION))


def true_ring(still: Still, ring: Ring) -> TrueFlow:
    """Return how fast the wall at the ring runs in the times of a still of tissue Doppler.

    Raises
    ------
    RuntimeError
        If no hand finds that ring in the animal: the still was drawn by other code.
    """
    return _ring(still.seed, ring, Valve(still.valve), len(still.flow.times_ms))


@lru_cache(maxsize=4)  # all stills of a ring follow one another
def _ring(seed: int, ring: Ring, valve: Valve, n: int) -> TrueFlow:
    rung = _rung(_bench(seed, ring), valve)
    clip, animal, span_ms = rung.steady, rung.bench.subject.animal, (n + 1) * STEP_MS
    spectral, pose = clip.doppler.spectral, clip.clip.pose
    film = spectral_film(animal, clip.clip, start_ms=rung.bench.subject.start_ms)
    motion = motion_before(animal, rung.bench.circulation, film, span_ms)
    depths = spectral.gate_depth_mm + spectral.gate_mm * np.linspace(-0.5, 0.5, GATE_POINTS)
    x, y, z = (np.ascontiguousarray(v) for v in pose.to_patient(_heard_mm(clip, depths)).astype(np.float32).T)
    beam, scene, body = _beam(clip), scene_of(animal), motion.body
    asked, both = np.arange(-span_ms, 0.0, ASKED_MS) + STEP_MS / 2, []
    for time_ms in asked:
        at = body.start_ms + motion.lead_ms + float(time_ms)
        tissue = np.asarray(scene.moving(state_at(animal.rhythm, body.beats, at), x, y, z).tissue)
        wall, leaflet = ~np.isin(tissue, NO_WALL), np.isin(tissue, LEAFLETS)
        counts = wall if wall.any() else leaflet
        as_wall = as_muscle(tissue)
        velocity = np.stack(motion(float(time_ms), x, y, z, as_wall).velocity_mm_s, axis=-1).astype(np.float64)
        towards = -(velocity @ beam)[counts] / 10.0
        both.append((max(towards.max(initial=0.0), 0.0), max(-towards.min(initial=0.0), 0.0)))
    times = np.arange(asked[0], asked[-1] + STEP_MS / 2, STEP_MS)
    smooth = np.maximum(Akima1DInterpolator(asked, np.asarray(both), axis=0)(times), 0.0)
    return TrueFlow(times_ms=times, towards_cm_s=smooth[:, 0], away_cm_s=smooth[:, 1])


def as_muscle(tissue: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return labels with each leaflet taken for the muscle that its ring moves with."""
    out = tissue.copy()
    for leaflet, muscle in MUSCLE_OF.items():
        out[tissue == leaflet] = muscle
    return out


@lru_cache(maxsize=1)
def _bench(seed: int, ring: Ring) -> Bench:
    return draw_bench(seed, ring)


def _rung(bench: Bench, valve: Valve) -> Rung:
    places = [(mode, *place) for mode in MODES for place in PLACES[mode]]
    for index, (mode, view, own) in enumerate(places):
        if mode is Mode.TISSUE_DOPPLER and own is valve:
            rung = steady_rung(bench, index, view, valve, mode)
            if rung is not None:
                return rung
    raise RuntimeError(f"animal {bench.seed}: no hand finds the {valve} ring of its still; draw its stills again")
