"""Ratios of two lines on one frame: left atrium to aorta in the short axis, pulmonary artery to aorta or to vein."""

from __future__ import annotations

from fanlight.measure.picture.case import PictureCase
from fanlight.measure.picture.la_ao import SOURCES, Convention, LaAo, measure_la_ao
from fanlight.measure.picture.over_beats import mean_over_frames
from fanlight.measure.picture.phase import Phase, base_phase_of, has_beats
from fanlight.measure.picture.placed import OnFrame, Placed, Points, carried
from fanlight.measure.picture.said import ACROSS
from fanlight.measure.picture.sizes import PARTS, is_measured_in
from fanlight.measure.shapes import distance
from fanlight.study import Measurement

_PAIRS = {"mpa_ao": ("pulmonary_trunk", "aortic_root"), "pv_pa": ("pulmonary_vein", "right_pulmonary_artery")}


def measure_base(case: PictureCase) -> list[Measurement]:
    """Return left atrium, aorta and their ratio by each convention apart, and the ratios of the pulmonary artery."""
    said = _pairs(case)
    parts = [item for item in case.given.lines if item.what in PARTS]
    if not parts:
        return said
    if is_measured_in("left_atrium", case.view):
        return said + _la_ao(case)
    other = [item for item in parts if not is_measured_in(item.what, case.view)]
    reason = f"it is not measured in this view ({case.view.title})"
    return said + [case.write.none(key, reason, ()) for key in dict.fromkeys(item.what for item in other)]


def _la_ao(case: PictureCase) -> list[Measurement]:
    groups: dict[tuple[Convention, Phase], list[LaAo]] = {}
    said = []
    for item in measure_la_ao(case.given, case.grid):
        if item.reason or item.convention is None:
            way = "" if item.convention is None else item.convention.value
            said.append(case.write.none("la_ao", item.reason, (item.frame,), way=way))
        else:
            groups.setdefault((item.convention, base_phase_of(item.frame, case.time)), []).append(item)
    for (convention, phase), items in groups.items():
        said += _of_group(convention, phase, items, case)
    return said


def _of_group(convention: Convention, phase: Phase, items: list[LaAo], case: PictureCase) -> list[Measurement]:
    when = phase.value or ("neither early nor late in diastole" if has_beats(case.time) else "moment not known")
    way = f"{convention.value}, {when}" if phase is not Phase.EARLY_DIASTOLE else convention.value
    words = (f"{convention.value} ({SOURCES[convention]})", when, *dict.fromkeys(item.note for item in items))
    found = []
    for key, power, unit in (("la_ao", 0, "1"), ("left_atrium", 1, "mm"), ("aortic_root", 1, "mm")):
        values = [value for item in items if (value := item.part(key)) is not None]
        mean = mean_over_frames(values, power)
        found.append(case.write.value(key, mean, unit, (*words, ACROSS if power else ""), way=way))
    return found


def _pairs(case: PictureCase) -> list[Measurement]:
    said = []
    for key, (part, whole) in _PAIRS.items():
        if not (is_measured_in(part, case.view) and is_measured_in(whole, case.view)):
            continue
        lines = {(item.what, item.frame): item for item in case.given.lines}
        frames = sorted({frame for what, frame in lines if what == part})
        both = [(lines[part, frame], lines[whole, frame]) for frame in frames if (whole, frame) in lines]
        if both:
            mean = mean_over_frames([_ratio(*pair, case) for pair in both], power=0)
            said.append(case.write.value(key, mean, "1", ("both lines on one frame",)))
        elif frames:
            name = case.write.quantities[whole].title.lower()
            said.append(case.write.none(key, f"the {name} is not marked on the same frame", tuple(frames)))
    return said


def _ratio(part: Placed, whole: Placed, case: PictureCase) -> OnFrame:
    pixel = case.grid.pixel

    def ratio(at: Points) -> float:
        return distance(at[0], at[1], pixel) / distance(at[2], at[3], pixel)

    points, sd_px = (*part.points, *whole.points), (*part.sd_px, *whole.sd_px)
    return OnFrame(frame=part.frame, value=ratio(points), placement=carried(ratio, points, sd_px))
