"""All numbers of a study: given with it, marked by hand, read off strips, of pictures; weighed and ranked. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from fanlight.measure.doppler.stroke import stroke_volumes
from fanlight.measure.from_strip import is_measured
from fanlight.measure.given import weigh_given
from fanlight.measure.guide_cursor import GuideCursor, judge_cursor
from fanlight.measure.kept_marks import measured_with_kept
from fanlight.measure.marked import GIVEN_BY, measure_marks
from fanlight.measure.picture import Given, Grid, given_by_hand, given_by_network, measure_picture
from fanlight.measure.strip_lines import TakenMark, marks_taken, numbers_of_marks
from fanlight.measure.strip_part import part_of
from fanlight.reference.intervals import weigh
from fanlight.reference.m_mode_cursor import read_cursor_limits
from fanlight.reference.recognition import read_recognition_limits
from fanlight.reference.units import say_value
from fanlight.reference.validity import TakenFrom
from fanlight.reference.views import read_views
from fanlight.study import (
    ENGINE,
    MODE_WORDS,
    ClipReading,
    DrawnMark,
    FileMarks,
    Finding,
    House,
    Measurement,
    Mode,
    Study,
)
from fanlight.validity.by_cursor import weigh_by_cursor, with_cursor_judged
from fanlight.validity.by_length import weigh_by_length
from fanlight.validity.measured import Rules, is_bound, weigh_measured
from fanlight.validity.ranked import rank_clips

_NAME_MODE = "its scales are marked, but not whether it is an M-mode or which kind of spectrum it is; name the mode"
_READ_AGAIN = "the clip was placed after it was read; it is read again and measured then"
_PICTURES = (Mode.TWO_D, Mode.COLOUR)  # shapes on them lie in the plane of the heart


@dataclass(frozen=True, slots=True, kw_only=True)
class Weighed:
    """What numbers of a study are weighed by.

    Attributes
    ----------
    undecided : mapping of str to tuple of Finding
        Findings of the engine on which no mentor decided, by the key of the clip.
    """

    study: Study
    house: House
    rules: Rules
    undecided: Mapping[str, tuple[Finding, ...]]


def all_numbers(
    by: Weighed, readings: Iterable[ClipReading], marks: Mapping[str, FileMarks]
) -> tuple[Measurement, ...]:
    """Return all numbers of a study.

    Parameters
    ----------
    by : Weighed
    readings : iterable of ClipReading
    marks : mapping of str to FileMarks
        What a person drew, by the key of the clip.

    Notes
    -----
    Where a person marked on a strip what the engine read off it, that person's number counts: it stands where numbers
    of people stand, stroke volume is worked out from it, and the engine's own stays beside it on the study sheet.
    """
    listed = tuple(readings)
    strips = [_strip(reading, marks.get(reading.clip.key), by) for reading in listed]
    by_hand = [item for strip in strips for item in strip.by_hand]
    numbers = (
        *weigh_given(by.study, by.house),
        *(item for strip in strips for item in strip.named),
        *by_hand,
        *(item for strip in strips for item in strip.read),
        *_pictured(listed, marks, by),
    )
    numbers += stroke_volumes(_pulsed(listed, numbers), numbers, by.house)
    ranked = rank_clips(numbers, {clip.name: clip.number for clip in by.study.clips})
    return _after_hands(ranked, by_hand)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Strip:
    """The numbers of one clip's marks, and of its strip where it is one."""

    named: tuple[Measurement, ...] = ()  # marks that are no quantity of a strip
    by_hand: tuple[Measurement, ...] = ()
    read: tuple[Measurement, ...] = ()  # off the pixels, by the engine


def _strip(reading: ClipReading, drawn: FileMarks | None, by: Weighed) -> _Strip:
    left = by.undecided.get(reading.clip.key, ())
    placed = tuple(replace(item, clip=reading.clip.name) for item in _as_placed(reading, drawn))
    cursor, limits = _cursor(reading, placed, drawn, by.house), read_cursor_limits(by.house)
    rules = with_cursor_judged(by.rules, cursor)
    read = weigh_by_cursor(weigh_measured(placed, reading.findings, rules, left), cursor, limits)
    mode = MODE_WORDS[reading.mode.mode] if reading.mode.mode else ""
    told = tuple(_in_intervals(item, mode, by) for item in read)
    if drawn is None:
        return _Strip(read=told)
    taken = marks_taken(drawn, reading, by.house) if is_measured(reading.mode.mode) else ()
    others = replace(drawn, drawn=_without(drawn, taken))
    raw = numbers_of_marks(taken, reading, (item for item in read if not is_bound(item)), by.house)
    # A person's own number needs no record of how often the engine is right, unless a part of it is the engine's.
    weighed = weigh_by_cursor(weigh_measured(raw, reading.findings, rules, left), cursor, limits)
    hands = (replace(item, sheet_only=was.sheet_only) for item, was in zip(weighed, raw, strict=True))
    return _Strip(
        named=measure_marks(others, reading.layout, reading.clip, reading.mode.mode),
        by_hand=tuple(_in_intervals(item, mode, by) for item in hands),
        read=told,
    )


def _cursor(
    reading: ClipReading, measured: tuple[Measurement, ...], drawn: FileMarks | None, house: House
) -> GuideCursor | None:
    """Return how the cursor of an M-mode lies on its guide, by what a person marked there."""
    view = read_views(house).get(reading.view.view)
    if reading.mode.mode is not Mode.M_MODE or view is None or drawn is None:
        return None
    return judge_cursor(part_of(view), reading.view.view, reading.layout, measured, drawn.drawn)


def _without(drawn: FileMarks, taken: Iterable[TakenMark]) -> tuple[DrawnMark, ...]:
    gone = {item.mark for item in taken}
    return tuple(mark for mark in drawn.drawn if mark not in gone)


def _in_intervals(item: Measurement, mode: str, by: Weighed) -> Measurement:
    """Return a number with what the reference rows say of it; a bound lies in no interval."""
    if item.value is None or not item.name or is_bound(item):
        return item
    how = f"{item.method}; {mode}" if mode else item.method
    said = weigh(by.house, item.name, item.value, item.unit, how, by.study.patient, by.study.request)
    return replace(item, readings=said)


def found_numbers(
    readings: Iterable[ClipReading], by: Weighed, marks: Mapping[str, FileMarks]
) -> tuple[Measurement, ...]:
    """Return what the engine's landmarks and calipers on pictures measure, of several clips ranked; no hand's mark.

    Parameters
    ----------
    readings : iterable of ClipReading
    by : Weighed
    marks : mapping of str to FileMarks
        A person's, by the key of the clip: of them the scale counts, before the file's, and nothing that was drawn.
    """
    scaled = {key: replace(item, drawn=()) for key, item in marks.items()}
    found = _pictured(readings, scaled, by)
    return rank_clips(found, {clip.name: clip.number for clip in by.study.clips})


def _pictured(readings: Iterable[ClipReading], marks: Mapping[str, FileMarks], by: Weighed) -> list[Measurement]:
    """Return what landmarks, lines and traces on 2-D pictures measure: a person's first, then the network's apart."""
    found: list[Measurement] = []
    landmark_from = read_recognition_limits(by.house).landmark_from
    for reading in readings:
        if reading.mode.mode not in _PICTURES:
            continue
        drawn = marks.get(reading.clip.key)
        given = () if drawn is None else given_by_hand(drawn, reading.layout, reading.clip, by.house)
        seen = given_by_network(reading.picture, reading.layout, drawn, landmark_from)
        hands = () if drawn is None else drawn.drawn
        for placed, grid in (*given, *(() if seen is None else (seen,))):

            def measure(shapes: Given, grid: Grid = grid, reading: ClipReading = reading) -> tuple[Measurement, ...]:
                return measure_picture(shapes, grid, reading.view, reading.time, by.study.patient, by.house)

            measured = measure(placed) if placed.is_found else measured_with_kept(placed, hands, measure)
            named = (replace(item, clip=reading.clip.name) for item in measured)
            left = by.undecided.get(reading.clip.key, ())
            found += weigh_measured(
                named, reading.findings, by.rules, left, taken_from=TakenFrom.PICTURE, view=reading.view.view
            )
    # The method says by itself that they were taken in 2-D or by discs.
    return [_in_intervals(item, "", by) for item in weigh_by_length(found)]


def _pulsed(readings: Iterable[ClipReading], numbers: Iterable[Measurement]) -> list[Measurement]:
    """Return what was measured on pulsed-wave clips: by a person, where one marked it, else by the engine."""
    clips = {reading.clip.name for reading in readings if reading.mode.mode is Mode.PULSED_WAVE}
    ours = [item for item in numbers if item.given_by in (ENGINE, GIVEN_BY) and item.clip in clips]
    marked = _marked_by_clip(item for item in ours if item.given_by == GIVEN_BY)
    return [item for item in ours if item.given_by == GIVEN_BY or (item.name, item.clip) not in marked]


def _marked_by_clip(by_hand: Iterable[Measurement]) -> dict[tuple[str, str], Measurement]:
    return {(item.name, item.clip): item for item in by_hand if item.name and item.value is not None}


def _after_hands(numbers: tuple[Measurement, ...], by_hand: Iterable[Measurement]) -> tuple[Measurement, ...]:
    """Return the numbers; one of the engine that a person marked on the same clip says which counts."""
    marked = _marked_by_clip(by_hand)
    return tuple(
        replace(item, sheet_only=True, beside=_counts(hand))
        if item.given_by == ENGINE and item.value is not None and (hand := marked.get((item.name, item.clip)))
        else item
        for item in numbers
    )  # fmt: skip


def _counts(hand: Measurement) -> str:
    assert hand.value is not None
    how = "with what was marked by hand" if hand.sheet_only else "marked by hand"
    return f"{how} on this clip: {say_value(hand.value, hand.unit)}, which counts"


def _as_placed(reading: ClipReading, drawn: FileMarks | None) -> tuple[Measurement, ...]:
    """Return what was measured, unless the clip was placed otherwise since: it was measured as another flow then."""
    if reading.mode.mode is None and drawn is not None and drawn.axes:
        return (_not_measured(_NAME_MODE, reading.frames_read - 1),)
    if not reading.measured or reading.measured_as == (reading.view.view, reading.view.valve):
        return reading.measured
    frame = next(iter(reading.measured[0].frames), reading.frames_read - 1)  # a strip is read by its last
    return (_not_measured(_READ_AGAIN, frame),)


def _not_measured(why: str, frame: int) -> Measurement:
    return Measurement(
        name="", label="Strip", value=None, unit="", frames=(frame,), given_by=ENGINE, reason=f"not measured: {why}"
    )
