"""Volume of the left ventricle from its traced inner border, by discs and by area and length; ejection fraction."""

from __future__ import annotations

from fanlight.measure.areas import HAND_PX
from fanlight.measure.picture.case import PictureCase
from fanlight.measure.picture.over_beats import ClipMean, combine, mean_over_frames, share_lost
from fanlight.measure.picture.phase import timing_fault, timing_words
from fanlight.measure.picture.placed import OnFrame, Placed, Points, carried
from fanlight.measure.picture.said import ALONG
from fanlight.measure.picture.sizes import VOLUMES, is_measured_in
from fanlight.measure.picture.ventricle import area_length_ml, discs_ml, is_open
from fanlight.reference.formulas.heart_size import SurfaceConstant, body_surface_m2
from fanlight.study import Landmark, Measurement, Patient, Species

# A hand that takes the border too far out at one place does so all around: as a whole the trace errs by as much as one
# of its points (engineering judgement).
_COMMON_PX = HAND_PX
# The first is the one that indices are made of: the rows of the tables are of the method of discs.
_WAYS = {"method of discs": discs_ml, "area-length": area_length_ml}
_ONE_PLANE = "one plane, papillary muscles as traced"
_SURFACE = {Species.DOG: SurfaceConstant.DOG, Species.CAT: SurfaceConstant.CAT}
_INDEX = {"edv": "edv_index", "esv": "esv_index"}


def measure_volumes(case: PictureCase) -> list[Measurement]:
    """Return the volumes of a clip by both ways, their indices and the ejection fraction of each way."""
    said: list[Measurement] = []
    means: dict[tuple[str, str], ClipMean] = {}
    for key in VOLUMES:
        traces = [item for item in case.given.traces if item.what == key]
        if not traces:
            continue
        if not is_measured_in(key, case.view):
            reason = f"it is not measured in this view ({case.view.title})"
            said.append(case.write.none(key, reason, tuple(item.frame for item in traces)))
            continue
        kept, faults = _usable(key, traces, case)
        said += [case.write.none(key, fault, (frame,)) for frame, fault in faults]
        for way, of in _WAYS.items() if kept else ():
            mean = mean_over_frames([_on_frame(item, of, case) for item in kept], power=3)
            means[key, way] = mean
            timing = dict.fromkeys(timing_words(item.frame, VOLUMES[key], case.time) for item in kept)
            said.append(case.write.value(key, mean, "mL", (way, *timing, _ONE_PLANE, ALONG), way=way))
            if way == next(iter(_WAYS)):
                said += _indexed(key, way, mean, case)
    return said + _ejection(means, case)


def _usable(key: str, traces: list[Placed], case: PictureCase) -> tuple[list[Placed], list[tuple[int, str]]]:
    kept, faults = [], []
    for item in traces:
        fault = timing_fault(item.frame, VOLUMES[key], case.time)
        if len(item.points) < 3 or not is_open(item.points, case.grid.pixel):
            fault = "the trace must run along the inner border from one mitral hinge round the apex to the other"
        if fault:
            faults.append((item.frame, fault))
        else:
            kept.append(item)
    return kept, faults


def _on_frame(trace: Placed, of: object, case: PictureCase) -> OnFrame:
    assert callable(of)
    marked = case.given.landmark(Landmark.LV_APEX.name, trace.frame)
    apex = None if marked is None else marked.points[0]

    def volume(at: Points) -> float:
        return float(of(at, case.grid.pixel, apex))

    placement = carried(volume, trace.points, trace.sd_px, common_px=_COMMON_PX)
    return OnFrame(frame=trace.frame, value=volume(trace.points), placement=placement)


def _indexed(key: str, way: str, mean: ClipMean, case: PictureCase) -> list[Measurement]:
    surface = body_surface(case.patient)
    if surface is None or not case.grid.has_mm:
        return []
    m2, constant = surface
    scaled = combine((mean, mean), mean.value / m2, (1 / m2, 0.0), power=3)
    words = (way, f"body surface {m2:.3f} m², {constant:g} BW^2/3", ALONG)
    return [case.write.value(_INDEX[key], scaled, "mL/m2", words)]


def body_surface(patient: Patient) -> tuple[float, float] | None:
    """Return body surface in m² and the constant it was taken with, None without species or weight."""
    if patient.species is None or patient.weight_kg is None:
        return None
    constant = _SURFACE[patient.species]
    return body_surface_m2(patient.weight_kg, constant), constant.value


def _ejection(means: dict[tuple[str, str], ClipMean], case: PictureCase) -> list[Measurement]:
    said = []
    for way in _WAYS:
        before, after = means.get(("edv", way)), means.get(("esv", way))
        if before is None or after is None:
            continue
        if after.value > before.value:
            reason = "the ventricle is larger in end-systole than in end-diastole; check the two frames"
            said.append(case.write.none("ejection_fraction", reason, after.frames, way=way))
        else:
            lost = share_lost(before, after)
            said.append(case.write.value("ejection_fraction", lost, "%", (way, _ONE_PLANE), way=way))
    return said
