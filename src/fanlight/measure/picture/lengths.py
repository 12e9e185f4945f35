"""Diameters, walls, rings and the ventricle's length on one clip: means over frames, each at its moment of the beat."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from fanlight.measure.picture.case import PictureCase
from fanlight.measure.picture.over_beats import ClipMean, mean_over_frames
from fanlight.measure.picture.phase import Phase, phase_of, timing_fault, timing_words
from fanlight.measure.picture.placed import OnFrame, Placed, Points, carried
from fanlight.measure.picture.said import ACROSS, ALONG
from fanlight.measure.picture.sizes import BY_KEY, LENGTHS, SIZES, VOLUMES, Size, is_measured_in
from fanlight.measure.picture.ventricle import axis_length, is_open, ring_middle
from fanlight.measure.shapes import Pixel, distance
from fanlight.study import Landmark, Measurement

# A length that the network's points give to no better than this share of it is no length (engineering judgement).
_WORST_SHARE = 0.15
_MITRAL = BY_KEY["mitral_annulus"]

Means = dict[str, ClipMean]


def measure_lengths(case: PictureCase) -> tuple[list[Measurement], Means]:
    """Return the lengths of a clip, and their means by key for what follows from them."""
    said: list[Measurement] = []
    means: Means = {}
    for size in SIZES:
        placed = _placed_for(size, case)
        if not placed and not (reason := _half_ring(size, case)):
            continue
        if not is_measured_in(size.key, case.view):
            said += _not_here(size.key, case, placed)
        elif not placed:
            said.append(case.write.none(size.key, reason, ()))
        elif size.hinges:
            said += _ring(size, placed, case, means)
        else:
            said += _timed(size.key, size.phase, [length_on(item, case.grid.pixel) for item in placed], case, means)
    return said + _ventricle_length(case, means), means


def length_on(line: Placed, pixel: Pixel) -> OnFrame:
    """Return the length of a line on its frame."""
    return _on_frame(line, lambda at: distance(at[0], at[1], pixel))


def _on_frame(placed: Placed, value: Callable[[Points], float]) -> OnFrame:
    return OnFrame(
        frame=placed.frame, value=value(placed.points), placement=carried(value, placed.points, placed.sd_px)
    )


def _placed_for(size: Size, case: PictureCase) -> list[Placed]:
    """Return the lines of a size, or the pairs of hinges where no line was drawn on that frame."""
    lines = [item for item in case.given.lines if item.what == size.key]
    lined = {item.frame for item in lines}
    frames = sorted({item.frame for item in case.given.landmarks} - lined)
    pairs = (_pair(size, frame, case) for frame in frames)
    return sorted([*lines, *(pair for pair in pairs if pair is not None)], key=lambda item: item.frame)


def _pair(size: Size, frame: int, case: PictureCase) -> Placed | None:
    ends = [case.given.landmark(hinge.name, frame) for hinge in size.hinges]
    if not ends or any(end is None for end in ends):
        return None
    return _joined(size.key, frame, [end for end in ends if end is not None])


def _joined(what: str, frame: int, ends: Sequence[Placed]) -> Placed:
    return Placed(
        what=what, frame=frame, points=tuple(point for end in ends for point in end.points),
        sd_px=tuple(sd for end in ends for sd in end.sd_px),
    )  # fmt: skip


def _half_ring(size: Size, case: PictureCase) -> str:
    """Return what is missing where a person marked one hinge of a ring, "" where nothing was begun."""
    set_ = {item.what for item in case.given.landmarks}
    missing = [hinge.value for hinge in size.hinges if hinge.name not in set_]
    if not case.is_by_hand or len(missing) != 1:
        return ""
    return f"the {missing[0]} is not marked; mark both hinges on one frame"


def _not_here(key: str, case: PictureCase, placed: Iterable[Placed]) -> list[Measurement]:
    if not case.is_by_hand:
        return []
    frames = tuple(item.frame for item in placed)
    return [case.write.none(key, f"it is not measured in this view ({case.view.title})", frames)]


def _ring(size: Size, placed: Sequence[Placed], case: PictureCase, means: Means) -> list[Measurement]:
    """Return a valve's ring, at each moment of the beat at which it was marked where it changes with the beat."""
    said = []
    groups: dict[Phase, list[OnFrame]] = {}
    for item in placed:
        phase = phase_of(item.frame, case.time) if size.changes else Phase.NOT_KNOWN
        groups.setdefault(phase, []).append(length_on(item, case.grid.pixel))
    for phase, values in sorted(groups.items()):
        mean = mean_over_frames(values, power=1)
        if fault := _too_vague(mean, case):
            said.append(case.write.none(size.key, fault, mean.frames, way=phase.value))
            continue
        means[f"{size.key} {phase.value}".strip()] = mean
        said.append(case.write.value(size.key, mean, "mm", (phase.value, "hinge to hinge", ACROSS), way=phase.value))
    return said


def _timed(
    key: str, wanted: Phase, values: Sequence[OnFrame], case: PictureCase, means: Means, words: str = ACROSS
) -> list[Measurement]:
    """Return a length that is taken at one moment; what was set at the opposite one says so instead."""
    faults = [fault for item in values if wanted and (fault := timing_fault(item.frame, wanted, case.time))]
    kept = [item for item in values if not (wanted and timing_fault(item.frame, wanted, case.time))]
    said = [case.write.none(key, fault, ()) for fault in dict.fromkeys(faults)]
    if not kept:
        return said
    mean = mean_over_frames(kept, power=1)
    means[key] = mean
    timing = dict.fromkeys(timing_words(frame, wanted, case.time) for frame in mean.frames) if wanted else {}
    return [*said, case.write.value(key, mean, "mm", (*timing, words))]


def _ventricle_length(case: PictureCase, means: Means) -> list[Measurement]:
    drawn = [item for item in case.given.lines if item.what in LENGTHS]
    apexes = {item.frame for item in case.given.landmarks if item.what == Landmark.LV_APEX.name}
    axes = [axis for frame in sorted(apexes) if (axis := _axis(frame, case)) is not None]
    if drawn or axes or _traced(case):
        if not is_measured_in("lv_length_d", case.view):
            return _not_here("lv_length_d", case, [*drawn, *axes])
        return _by_phase(drawn, axes, case, means)
    if apexes and case.is_by_hand and is_measured_in("lv_length_d", case.view):
        reason = "both mitral hinges must be marked on the frame of the apex"
        return [case.write.none("", reason, tuple(sorted(apexes)), label="LV length")]
    return []


def _axis(frame: int, case: PictureCase) -> Placed | None:
    """Return both hinges and the apex of a frame."""
    apex = case.given.landmark(Landmark.LV_APEX.name, frame)
    line = next((item for item in case.given.lines if item.what == _MITRAL.key and item.frame == frame), None)
    ring = line or _pair(_MITRAL, frame, case)
    return None if apex is None or ring is None else _joined("lv_length", frame, (ring, apex))


def _by_phase(drawn: Iterable[Placed], axes: Iterable[Placed], case: PictureCase, means: Means) -> list[Measurement]:
    pixel = case.grid.pixel
    by_key: dict[str, list[OnFrame]] = {}
    for item in drawn:
        by_key.setdefault(item.what, []).append(length_on(item, pixel))
    at = {phase: key for key, phase in LENGTHS.items()}
    for item in axes:
        key = at.get(phase_of(item.frame, case.time), "")
        by_key.setdefault(key, []).append(_on_frame(item, lambda points: axis_length(points, pixel)))
    for key, item in _traced(case):
        if item.frame not in {value.frame for value in by_key.get(key, ())}:  # what was marked for it goes before
            by_key.setdefault(key, []).append(_on_frame(item, lambda points: axis_length(points, pixel)))
    said = []
    for key, values in by_key.items():
        mean = mean_over_frames(values, power=1)
        if fault := _too_vague(mean, case):
            said.append(case.write.none(key, fault, mean.frames, label="" if key else "LV length"))
        elif key:
            said += _timed(key, LENGTHS[key], values, case, means, ALONG)
        else:
            words = ("at which moment of the beat is not known", ALONG)
            said.append(case.write.value("", mean, "mm", words, label="LV length"))
    return said


def _traced(case: PictureCase) -> list[tuple[str, Placed]]:
    """Return ends and farthest point of the ventricle's traces, where they have ends: each with its length's key."""
    found = []
    for item in case.given.traces:
        if len(item.points) > 2 and is_open(item.points, case.grid.pixel) and is_measured_in(item.what, case.view):
            ring = ring_middle(item.points[0], item.points[-1])
            tip = max(range(len(item.points)), key=lambda k: distance(item.points[k], ring, case.grid.pixel))
            places = (0, len(item.points) - 1, tip)
            key = next(key for key, phase in LENGTHS.items() if phase is VOLUMES[item.what])
            axis = Placed(
                what="lv_length", frame=item.frame, points=tuple(item.points[k] for k in places),
                sd_px=tuple(item.sd_px[k] for k in places),
            )  # fmt: skip
            found.append((key, axis))
    return found


def _too_vague(mean: ClipMean, case: PictureCase) -> str:
    if case.is_by_hand or mean.placement <= _WORST_SHARE * mean.value:
        return ""
    return f"the network places its points to {100 * mean.placement / mean.value:.0f} % of it only"
