"""Where beam and gate of a spectrum lie: the angle to the flow, the gate in blood or tissue, its place at the valve."""

from __future__ import annotations

import math
import re

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.critique.accumulator import ClipContext, Family, judged, not_assessable
from fanlight.critique.applies import none_assessable
from fanlight.critique.doppler.confidence import UNMEASURED
from fanlight.critique.doppler.guide import (
    FLOW_AXIS,
    Guide,
    angle_between_deg,
    guide_of,
    marked_axis,
    marked_point,
    ring_point,
    ring_width_px,
)
from fanlight.critique.doppler.spectrum_frames import spectrum_frames
from fanlight.critique.doppler.told import told
from fanlight.frames.colour_box import chroma, picture_mask
from fanlight.study import (
    ClipTime,
    DrawnMark,
    Evidence,
    Finding,
    Landmark,
    Mode,
    PictureChunk,
    Point,
    Polyline,
    SpatialFormat,
    Valve,
    Verdict,
)

ANGLE, CORRECTED, TISSUE, PLACE = (
    "spectrum_angle", "spectrum_angle_corrected", "spectrum_gate_in_tissue", "spectrum_gate_place",
)  # fmt: skip
_GATE_PX = 4  # half the side of the square about the gate that is looked at
_MARK_CHROMA = 28  # ink of the marks themselves
# Brightness of blood and of tissue on the guide: percentiles inside its fan (engineering judgement: a heart fills it by
# a third with blood, and its walls and what lies about it are the brighter half).
_BLOOD_PERCENTILE, _TISSUE_PERCENTILE = 20.0, 80.0
_LEAST_CONTRAST = 25.0  # grey levels between the two
_GREY_PERCENTILE = 40.0  # of the gate's square: single bright specks in blood are no tissue
# The gate keeps still and the heart does not: a valve's ring moves by about a tenth of the depth that is shown, so that
# a place at which flow is heard lies in a wall for a part of each beat (simulated gates of ring A: up to half of it).
# Within so much of blood, one moment does not tell where the gate lay while the flow ran (engineering judgement).
_BEAT_MOVES_SHARE = 0.10
_SURELY_BLOOD = 0.3  # of the way from blood to tissue
_TIPS = (
    (Landmark.MITRAL_TIPS,),
    (Landmark.MITRAL_SEPTAL_TIP, Landmark.MITRAL_PARIETAL_TIP),
)
# Of the gate beyond the middle of the ring, in its radii, where no tips are marked: between the tips of the open
# leaflets, beyond the aortic valve (common practice; how far: simulated gates of ring A). At the pulmonic valve a gate
# in the outflow tract below or in the trunk beyond serves as well, and no mark tells how far that reaches: it is not
# judged.
_AHEAD_RADII = {Valve.MITRAL: 1.9, Valve.TRICUSPID: 1.3, Valve.AORTIC: 0.9}
_SEEN_ASKEW = (Valve.TRICUSPID,)  # its hinges seldom lie across from each other in a picture: no measure of the ring
_USUAL_RADIUS_MM = 8.0  # of a ring in a dog of 10 kg, where its hinges are not marked (engineering judgement)
_BODY_KG = 10.0

# How a screen writes the angle by which it corrects; a bare "Angle 75" may as well be the width of the sector.
_SAYS_ANGLE = re.compile(r"(?i)^(?:angle|θ)")
_CORRECTED_BY = re.compile(r"(?i)^(?:angle\s*corr\w*\.?|θ)[^\d]*(?P<deg>\d{1,2}(?:\.\d+)?)")


class _SpectrumAim:
    def __init__(self, context: ClipContext) -> None:
        self._context = context
        self._frames = spectrum_frames(context)

    def add(self, chunk: PictureChunk) -> None:
        self._frames.add(chunk)

    def finish(self, _: ClipTime) -> tuple[Finding, ...]:
        frames = self._frames
        if not frames.is_asked:
            return ()
        if frames.why_not:
            return none_assessable(self._context, FAMILY, frames.why_not)
        guide = guide_of(self._context, frames)
        if isinstance(guide, str):
            return (
                self._none(ANGLE, guide), self._corrected(), self._none(TISSUE, guide), self._none(PLACE, guide),
            )  # fmt: skip
        return self._angle(guide), self._corrected(), self._tissue(guide), self._place(guide)

    def _none(self, key: str, reason: str) -> Finding:
        return not_assessable(self._context, FAMILY, key, reason)

    @property
    def _drawn(self) -> tuple[DrawnMark, ...]:
        marks = told(self._context).marks
        return () if marks is None else marks.drawn

    def _angle(self, guide: Guide) -> Finding:
        if self._context.mode.mode is Mode.TISSUE_DOPPLER:
            return self._none(ANGLE, "asked of blood flow: tissue moves along another axis")
        if guide.cursor_deg is None:
            return self._none(ANGLE, guide.how)
        axis = marked_axis(self._drawn, told(self._context).valve)
        if axis is None:
            return self._none(
                ANGLE,
                f"no mark gives the axis of the flow; lay a line labelled “{FLOW_AXIS}” along it, or mark the ring of "
                "the valve and what lies beyond",
            )
        angle = angle_between_deg(guide.sector, guide.cursor_deg, axis)
        if self._context.criteria[ANGLE].band.judge(angle)[0] is Verdict.MET:
            # What lies across the picture is not seen: the angle in space is as large or larger.
            return self._none(
                ANGLE,
                f"in this picture beam and flow stand at {angle:.0f} degrees, {_loss_percent(angle):.0f} % of the "
                "velocity; what the flow turns across the picture is not seen, so the angle is that or larger",
            )
        return judged(
            self._context, FAMILY, ANGLE, angle, confidence=UNMEASURED, uncertainty=5.0,
            evidence=(Evidence(shape=Polyline(points=axis), label="axis of the flow, as marked"),),
            note=f"at least, from {guide.how} and the marked axis: {_loss_percent(angle):.0f} % of the velocity is "
            "lost, or more",
        )  # fmt: skip

    def _corrected(self) -> Finding:
        """Angle by which the scale is corrected, from the region of the file."""
        if self._context.mode.mode is Mode.CONTINUOUS_WAVE:
            return self._none(CORRECTED, "asked where a gate has a mark of the angle, not of continuous wave")
        trusted = [
            item.region
            for item in self._context.layout.regions
            if item.trusted and item.region.spatial_format == SpatialFormat.SPECTRAL
        ]
        words = [text for text in self._context.layout.texts if _SAYS_ANGLE.match(text.text)]
        if any(region.doppler_angle_deg for region in trusted):
            angle = max(abs(region.doppler_angle_deg or 0.0) for region in trusted)
            return judged(self._context, FAMILY, CORRECTED, angle, confidence=UNMEASURED, note="as the file states it")
        for text in words:
            if written := _CORRECTED_BY.search(text.text):
                return judged(
                    self._context, FAMILY, CORRECTED, float(written["deg"]), confidence=UNMEASURED,
                    note=f"the screen says “{text.text}”",
                )  # fmt: skip
        if any(region.doppler_angle_deg is not None for region in trusted):
            return judged(self._context, FAMILY, CORRECTED, 0.0, confidence=UNMEASURED, note="the file states none")
        return self._none(CORRECTED, "neither file nor screen says whether the scale is corrected for an angle")

    def _tissue(self, guide: Guide) -> Finding:
        mode = self._context.mode.mode
        if mode in (Mode.CONTINUOUS_WAVE, Mode.TISSUE_DOPPLER):
            return self._none(TISSUE, "asked of the gate of pulsed wave in blood")
        if guide.gate is None:
            reason = guide.how if guide.cursor_deg is None else "no gate was found on the cursor of the guide"
            return self._none(TISSUE, reason)
        share = tissue_share(self._frames.grey, self._frames.pixels, guide)
        if share is None:
            return self._none(TISSUE, "blood and tissue differ too little on the guide to tell them at the gate")
        lies_bright = self._context.criteria[TISSUE].band.judge(share)[0] is not Verdict.MET
        if lies_bright and is_near_blood(self._frames.grey, self._frames.pixels, guide):
            return self._none(
                TISSUE,
                "the guide shows one moment: tissue lies at the gate, and blood so near that the beating heart may "
                "bring it there",
            )
        row, col = guide.gate
        corners = tuple((row + r * _GATE_PX, col + c * _GATE_PX) for r, c in ((-1, -1), (-1, 1), (1, 1), (1, -1)))
        return judged(
            self._context, FAMILY, TISSUE, share, confidence=UNMEASURED, uncertainty=0.1,
            evidence=(Evidence(shape=Polyline(points=corners, closed=True), label="gate"),),
            note="brightness at the gate, from blood (0) to tissue (1) of this guide, which shows one moment",
        )  # fmt: skip

    def _place(self, guide: Guide) -> Finding:
        mode, valve, weight = self._context.mode.mode, told(self._context).valve, self._context.patient.weight_kg
        if mode in (Mode.CONTINUOUS_WAVE, Mode.TISSUE_DOPPLER):
            return self._none(PLACE, "asked of the gate of pulsed wave in blood")
        if valve is None:
            return self._none(PLACE, "the valve is not known: nobody said which one this spectrum is of")
        if valve not in _AHEAD_RADII:
            return self._none(PLACE, f"at the {valve} valve a gate serves in the tract below it and beyond it as well")
        if guide.gate is None:
            reason = guide.how if guide.cursor_deg is None else "no gate was found on the cursor of the guide"
            return self._none(PLACE, reason)
        if guide.mm_per_px is None or weight is None:
            missing = "the scale of the guide" if guide.mm_per_px is None else "the weight of the animal"
            return self._none(PLACE, f"{missing} is not known, so the distance has no measure")
        body = (weight / _BODY_KG) ** (1 / 3)
        target = target_of(self._drawn, valve, _USUAL_RADIUS_MM * body / guide.mm_per_px)
        if target is None:
            return self._none(PLACE, f"no marks give the place of the {valve} valve on the guide")
        apart_mm = math.dist(target, guide.gate) * guide.mm_per_px
        return judged(
            self._context, FAMILY, PLACE, apart_mm / body, confidence=UNMEASURED, uncertainty=1.5,
            evidence=(Evidence(shape=Polyline(points=(guide.gate, target)), label="gate to its place"),),
            note=f"{apart_mm:.1f} mm from its place by the marks, at {weight:.0f} kg; the value is for 10 kg",
        )  # fmt: skip


def _loss_percent(angle_deg: float) -> float:
    """Return which share of a velocity is lost at an angle: 1 - cos (physics)."""
    return 100.0 * (1.0 - math.cos(math.radians(angle_deg)))


def tissue_share(grey: NDArray[np.uint8], pixels: NDArray[np.uint8], guide: Guide) -> float | None:
    """Return how bright the guide is at the gate, 0 as blood to 1 as tissue; None where the two hardly differ."""
    assert guide.gate is not None
    ink, levels = _ink(pixels), _levels_of(grey, pixels, guide)
    if levels is None:
        return None
    blood, tissue = levels
    row, col = (round(v) for v in guide.gate)
    square = (slice(max(row - _GATE_PX, 0), row + _GATE_PX + 1), slice(max(col - _GATE_PX, 0), col + _GATE_PX + 1))
    free = grey[square][~ink[square]]
    if free.size < _GATE_PX * _GATE_PX // 2:
        return None
    return float(np.clip((np.percentile(free, _GREY_PERCENTILE) - blood) / (tissue - blood), 0.0, 1.0))


def is_near_blood(grey: NDArray[np.uint8], pixels: NDArray[np.uint8], guide: Guide) -> bool:
    """Return whether the heart may bring blood to the gate within a beat: some lies as near as its ring moves."""
    assert guide.gate is not None
    levels = _levels_of(grey, pixels, guide)
    if levels is None:
        return False
    side = 2 * _GATE_PX + 1
    free = (~_ink(pixels) & (picture_mask(guide.sector, *grey.shape) > 0)).astype(np.float32)
    seen = cv2.blur(free, (side, side))
    mean = cv2.blur(grey * free, (side, side)) / np.maximum(seen, 1e-6)
    is_blood = (seen >= 0.5) & (mean <= levels[0] + _SURELY_BLOOD * (levels[1] - levels[0]))
    row, col = np.nonzero(is_blood)
    away = np.hypot(row - guide.gate[0], (col - guide.gate[1]) * guide.sector.col_stretch)
    return bool((away <= _BEAT_MOVES_SHARE * guide.sector.depth_px).any())


def _levels_of(
    grey: NDArray[np.uint8], pixels: NDArray[np.uint8], guide: Guide
) -> tuple[float, float] | None:  # fmt: skip
    """Return the brightness of blood and of tissue on this guide; None where they hardly differ."""
    levels = grey[(picture_mask(guide.sector, *grey.shape) > 0) & ~_ink(pixels)]
    if levels.size == 0:
        return None
    blood, tissue = (float(np.percentile(levels, p)) for p in (_BLOOD_PERCENTILE, _TISSUE_PERCENTILE))
    return (blood, tissue) if tissue - blood >= _LEAST_CONTRAST else None


def _ink(pixels: NDArray[np.uint8]) -> NDArray[np.bool_]:
    return np.zeros(pixels.shape, np.bool_) if pixels.ndim == 2 else np.asarray(chroma(pixels) >= _MARK_CHROMA)


def target_of(marks: tuple[DrawnMark, ...], valve: Valve, usual_radius_px: float) -> Point | None:
    """Return where the gate belongs by the marks: at the tips, else a little beyond the ring with the flow."""
    if valve is Valve.MITRAL:
        tips = next((p for group in _TIPS if (p := marked_point(marks, group)) is not None), None)
        if tips is not None:
            return tips
    ring, axis = ring_point(marks, valve), marked_axis(marks, valve)
    if ring is None or axis is None:
        return None
    width = None if valve in _SEEN_ASKEW else ring_width_px(marks, valve)
    ahead = _AHEAD_RADII[valve] * (usual_radius_px if width is None else width / 2)
    length = math.dist(*axis)
    return (
        ring[0] + ahead * (axis[1][0] - axis[0][0]) / length,
        ring[1] + ahead * (axis[1][1] - axis[0][1]) / length,
    )


FAMILY = Family(name="doppler_spectrum_aim", version=7, start=_SpectrumAim)
