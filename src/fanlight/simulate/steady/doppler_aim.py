"""Where the flow of a valve lies in a picture and how fast it is there: what a hand finds by moving the gate about."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fanlight.heart.animal import Animal, animal_landmarks
from fanlight.heart.blood.circulation import Circulation
from fanlight.heart.cycle import state_at
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.movements import Movement, moved
from fanlight.heart.moving_body import MovingBody, moving_body
from fanlight.heart.pose import Vector
from fanlight.heart.rhythm import beats
from fanlight.heart.tissue import BLOOD
from fanlight.simulate.clip.clip_setting import ClipSetting
from fanlight.simulate.clip.colour_box_at import place_in_picture
from fanlight.simulate.clip.doppler_setting import Sought
from fanlight.simulate.machine.animal_scene import scene_of
from fanlight.simulate.machine.beams import line_geometry
from fanlight.simulate.spectral.spectral_setting import SpectralSetting
from fanlight.simulate.steady.outlet_gate import MOMENTS, OUTLET_GATE, OUTLET_REACH, OUTLET_WITHIN, clearest
from fanlight.study import Landmark, Mode, Valve

Floats = NDArray[np.float64]

_STEP_MM = 1.0  # of the search: the core of a jet is some millimetres wide
_RING = {  # two points of each ring that lie across from each other, of which the pulmonic one has none marked
    Valve.MITRAL: (Landmark.MITRAL_SEPTAL_HINGE, Landmark.MITRAL_PARIETAL_HINGE),
    Valve.TRICUSPID: (Landmark.TRICUSPID_SEPTAL_HINGE, Landmark.TRICUSPID_PARIETAL_HINGE),
    Valve.AORTIC: (Landmark.AORTIC_SEPTAL_HINGE, Landmark.AORTIC_MITRAL_HINGE),
    Valve.PULMONIC: (Landmark.AORTIC_SEPTAL_HINGE, Landmark.AORTIC_MITRAL_HINGE),  # about as wide as the aortic ring
}
_CENTRE = {
    Valve.MITRAL: Landmark.MITRAL_CENTRE,
    Valve.TRICUSPID: Landmark.TRICUSPID_CENTRE,
    Valve.AORTIC: Landmark.AORTIC_CENTRE,
    Valve.PULMONIC: Landmark.PULMONIC_CENTRE,
}
_TOWARDS = {  # from the middle of the ring, with the flow
    Valve.MITRAL: Landmark.LV_APEX,
    Valve.TRICUSPID: Landmark.RV_APEX,
    Valve.AORTIC: Landmark.AORTIC_SINUS_CENTRE,
    Valve.PULMONIC: Landmark.PULMONARY_BIFURCATION,
}
_FLOWS = {
    (Valve.MITRAL, Sought.FORWARD): "mitral", (Valve.MITRAL, Sought.LEAK): "mitral_jet",
    (Valve.TRICUSPID, Sought.FORWARD): "tricuspid", (Valve.TRICUSPID, Sought.LEAK): "tricuspid_jet",
    (Valve.AORTIC, Sought.FORWARD): "aortic", (Valve.PULMONIC, Sought.FORWARD): "pulmonic",
}  # fmt: skip
# How far beyond the middle of the ring the gate or the beam is aimed and how far about it the hand searches, in radii
# of the ring. Leaflets are about as long as the ring is wide: their tips lie a radius in. Engineering judgement.
_AHEAD = {Valve.MITRAL: 1.0, Valve.TRICUSPID: 0.9, Valve.AORTIC: 1.0, Valve.PULMONIC: 0.9}
_GATE_REACH = {Valve.MITRAL: 0.45, Valve.TRICUSPID: 0.45, **OUTLET_REACH}
_LINE_REACH = 1.2
# By which a hand tilts in search of the best signal, and how much better it must be for a tilt to be worth it
# (engineering judgement).
_TILTS_DEG, _WORTH = (-9.0, -6.0, -3.0, 3.0, 6.0, 9.0), 1.1
_MOMENTS = 24  # of a beat, at which a gate is listened to


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ValveNow:
    """A valve at the moment of its fastest flow, patient frame."""

    middle_mm: Vector
    flow: Vector  # unit vector of the flow that is looked for
    radius_mm: float  # of the ring
    target_mm: Vector  # where the hand looks for the fastest signal
    time_ms: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowPeak:
    """The fastest flow at a place of the picture, in the model."""

    cursor_deg: float
    depth_mm: float
    along_cm_s: float  # along the beam, towards the probe positive
    speed_cm_s: float  # in space
    angle_deg: float  # between beam and flow in space, 0 to 90
    time_ms: float  # in the animal's rhythm, a beat without breath


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ModelFlow:
    """One beat of an animal with its blood, to be asked where flow is fastest. Make it with `model_flow`."""

    body: MovingBody

    @property
    def animal(self) -> Animal:
        """Whose flow it is."""
        return self.body.animal

    @property
    def beat_ms(self) -> tuple[float, float]:
        """Beginning and end of the first whole beat."""
        beat = next(beat for beat in self.body.beats if beat.onset_ms >= 0.0)
        return beat.onset_ms, beat.end_ms

    def valve(self, valve: Valve, sought: Sought) -> ValveNow:
        """Return a valve at the peak of a flow; for the annulus, at the peak of filling.

        Raises
        ------
        ValueError
            If the valve has no such flow.
        """
        flows = self.body.flows
        name = _FLOWS.get((valve, Sought.FORWARD if sought is Sought.ANNULUS else sought))
        values = np.zeros(1) if name is None else getattr(flows, name)
        if not values.any():
            raise ValueError(f"the {valve} valve of this animal has no {sought}")
        start, end = self.beat_ms
        during = (flows.times_ms >= start) & (flows.times_ms < end)
        time_ms = float(flows.times_ms[during][np.argmax(values[during])])
        points = animal_landmarks(self.animal, state_at(self.animal.rhythm, self.body.beats, time_ms))
        middle = np.asarray(points[_CENTRE[valve]], float)
        ahead = np.asarray(points[_TOWARDS[valve]], float) - middle
        ahead /= float(np.linalg.norm(ahead))
        radius = 0.5 * float(np.linalg.norm(points[_RING[valve][0]] - points[_RING[valve][1]]))
        sign = -1.0 if sought is Sought.LEAK else 1.0
        target = middle + sign * _AHEAD[valve] * radius * ahead
        if valve is Valve.MITRAL and sought is Sought.FORWARD:
            target = 0.5 * (points[Landmark.MITRAL_SEPTAL_TIP] + points[Landmark.MITRAL_PARIETAL_TIP])
        if sought is Sought.ANNULUS:
            target = np.asarray(points[_RING[valve][0]], float)
        return ValveNow(
            middle_mm=middle, flow=sign * ahead, radius_mm=radius, target_mm=np.asarray(target, float), time_ms=time_ms
        )

    def fastest(self, setting: ClipSetting, valve: Valve, sought: Sought, mode: Mode) -> FlowPeak:
        """Return the fastest signal near a valve that this picture can reach; a gate searches closer than a line.

        Raises
        ------
        ValueError
            If the valve lies outside the picture, or no flow of it is met, for an outlet: clear of its cusps.
        """
        now = self.valve(valve, sought)
        is_outlet = valve in OUTLET_GATE and mode is Mode.PULSED_WAVE
        target_mm = now.middle_mm + OUTLET_GATE[valve] * now.radius_mm * now.flow if is_outlet else now.target_mm
        lines = line_geometry(setting.probe, setting.console)
        depth, angle = place_in_picture(lines, setting.pose, target_mm)
        if not (4.0 < depth < lines.depth_mm - 4.0 and lines.left_deg < angle < lines.right_deg):
            raise ValueError(f"the {valve} valve lies at {depth:.0f} mm and {angle:.0f} degrees, outside the picture")
        reach = now.radius_mm * (_LINE_REACH if mode is Mode.CONTINUOUS_WAVE else _GATE_REACH[valve])
        offsets = np.arange(-reach, reach + _STEP_MM, _STEP_MM)
        turn = np.degrees(offsets / (depth + lines.apex_mm))
        cursors, depths = (part.ravel() for part in np.meshgrid(angle + turn, depth + offsets))
        near = np.hypot(depths - depth, np.radians(cursors - angle) * (depth + lines.apex_mm)) <= reach
        inside = near & (depths > 4.0) & (depths < lines.depth_mm - 4.0)
        inside &= (cursors > lines.left_deg) & (cursors < lines.right_deg)
        cursors, depths = cursors[inside], depths[inside]
        along, speed, in_blood = self._along(setting, cursors, depths, now.time_ms)
        towards_probe = -float(now.flow @ _beam(setting, angle))
        signed = np.where(in_blood, along * (1.0 if towards_probe >= 0 else -1.0), -1.0)
        if is_outlet:
            off_mm = np.linalg.norm(_in_patient(setting, cursors, depths) - now.middle_mm, axis=1)
            signed = np.where(off_mm <= OUTLET_WITHIN[valve] * now.radius_mm, signed, -1.0)
        if not (signed > 0).any():
            raise ValueError(f"no {sought} of the {valve} valve is met in this picture")
        best = int(np.argmax(signed))
        if is_outlet:
            best = clearest(self.animal, self._states, setting, cursors, depths, signed)
        return _peak(float(cursors[best]), float(depths[best]), float(along[best]), float(speed[best]), now.time_ms)

    def aslant_deg(self, setting: ClipSetting, cursor_deg: float, valve: Valve, sought: Sought) -> float:
        """Return the angle in space, 0 to 90 degrees, between the cursor and the flow of a valve that is looked for.

        Raises
        ------
        ValueError
            If the valve has no such flow.
        """
        along = float(self.valve(valve, sought).flow @ _beam(setting, cursor_deg))
        return math.degrees(math.acos(min(abs(along), 1.0)))

    def tilted(self, setting: ClipSetting, valve: Valve, sought: Sought, mode: Mode) -> ClipSetting:
        """Return the setting with the probe tilted to where the signal of a spectrum is best, if that is worth it."""
        best, shown = setting, 0.0
        for tilt in (0.0, *_TILTS_DEG):
            try:
                pose = moved(self.animal, setting.pose, Movement.TILT, tilt) if tilt else setting.pose
                there = replace(setting, pose=pose)
                along = abs(self.fastest(there, valve, sought, mode).along_cm_s)
            except ValueError:
                continue  # not met from there
            if along > shown * (_WORTH if shown else 1.0):
                best, shown = there, along
        return best

    def heard(self, setting: ClipSetting, spectral: SpectralSetting) -> FlowPeak:
        """Return the fastest blood that a gate, or the line of a continuous wave, meets in a beat.

        Tissue Doppler: the fastest tissue in the gate.
        """
        if spectral.is_gated:
            depths = spectral.gate_depth_mm + spectral.gate_mm * np.array([-0.35, 0.0, 0.35])
        else:
            depths = np.arange(6.0, setting.console.depth_mm - 2.0, _STEP_MM)
        cursors = np.full(len(depths), spectral.cursor_deg)
        best = _peak(spectral.cursor_deg, spectral.gate_depth_mm, 0.0, 0.0, self.beat_ms[0])
        for time_ms in np.linspace(*self.beat_ms, _MOMENTS, endpoint=False):
            along, speed, in_blood = self._along(setting, cursors, depths, float(time_ms))
            counts = ~in_blood if spectral.has_low_pass else in_blood
            size = np.where(counts, np.abs(along), -1.0)
            k = int(np.argmax(size))
            if size[k] > abs(best.along_cm_s):
                best = _peak(spectral.cursor_deg, float(depths[k]), float(along[k]), float(speed[k]), float(time_ms))
        return best

    def both_ways_cm_s(self, setting: ClipSetting, spectral: SpectralSetting) -> tuple[float, float]:
        """Return the fastest blood in a gate towards the probe and away from it during a beat, both 0 or above."""
        depths = spectral.gate_depth_mm + spectral.gate_mm * np.array([-0.35, 0.0, 0.35])
        cursors = np.full(len(depths), spectral.cursor_deg)
        towards = away = 0.0
        for time_ms in np.linspace(*self.beat_ms, _MOMENTS, endpoint=False):
            along, _, in_blood = self._along(setting, cursors, depths, float(time_ms))
            if in_blood.any():
                towards = max(towards, float(along[in_blood].max()))
                away = max(away, -float(along[in_blood].min()))
        return towards, away

    @property
    def _states(self) -> list[CycleState]:
        times_ms = np.linspace(*self.beat_ms, MOMENTS, endpoint=False)
        return [state_at(self.animal.rhythm, self.body.beats, float(time_ms)) for time_ms in times_ms]

    def _along(
        self, setting: ClipSetting, cursors_deg: Floats, depths_mm: Floats, time_ms: float
    ) -> tuple[Floats, Floats, NDArray[np.bool_]]:
        """Return velocity along the beam (cm/s, towards the probe positive), speed, and whether blood lies there."""
        x, y, z = (np.ascontiguousarray(v) for v in _in_patient(setting, cursors_deg, depths_mm).astype(np.float32).T)
        angle = np.radians(cursors_deg)
        state = state_at(self.animal.rhythm, self.body.beats, time_ms)
        tissue = np.asarray(scene_of(self.animal).moving(state, x, y, z).tissue)  # the heart alone
        velocity = np.stack(self.body(time_ms, x, y, z, tissue).velocity_mm_s, axis=-1).astype(np.float64)
        beam = np.stack([np.sin(angle), 0 * angle, np.cos(angle)], axis=-1) @ setting.pose.axes.T
        along = -(velocity * beam).sum(axis=1) / 10.0
        return along, np.linalg.norm(velocity, axis=1) / 10.0, np.isin(tissue, [int(t) for t in BLOOD])


def model_flow(animal: Animal, circulation: Circulation) -> ModelFlow:
    """Return one beat of an animal, ready to be asked."""
    rr_ms = 60_000.0 / animal.rhythm.rate_bpm
    duration_ms = 2.6 * rr_ms  # a whole beat and what lies about it
    run = beats(animal.rhythm, duration_ms + rr_ms)
    return ModelFlow(body=moving_body(animal, circulation, run, start_ms=0.0, duration_ms=duration_ms))


def _beam(setting: ClipSetting, cursor_deg: float) -> Vector:
    angle = math.radians(cursor_deg)
    return np.asarray(setting.pose.axes @ [math.sin(angle), 0.0, math.cos(angle)])


def _in_patient(setting: ClipSetting, cursors_deg: Floats, depths_mm: Floats) -> Floats:
    """Return places (n, 3) of the picture in the patient's frame, mm."""
    angle, apex_mm = np.radians(cursors_deg), setting.probe.radius_mm
    radius = depths_mm + apex_mm
    points = np.stack([radius * np.sin(angle), 0 * radius, radius * np.cos(angle) - apex_mm], axis=-1)
    return np.asarray(setting.pose.to_patient(points))


def _peak(cursor_deg: float, depth_mm: float, along: float, speed: float, time_ms: float) -> FlowPeak:
    share = min(abs(along) / speed, 1.0) if speed > 0 else 1.0
    return FlowPeak(
        cursor_deg=cursor_deg, depth_mm=depth_mm, along_cm_s=along, speed_cm_s=speed,
        angle_deg=math.degrees(math.acos(share)), time_ms=time_ms,
    )  # fmt: skip
