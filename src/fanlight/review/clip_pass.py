"""One pass over one clip: decode once, show every chunk to all stages that still have to run. Runs in the worker."""

from __future__ import annotations

import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fanlight.critique.accumulator import Accumulator, ClipContext
from fanlight.critique.doppler.told import tell
from fanlight.critique.every_family import EVERY_FAMILY
from fanlight.frames.clip_time import ClipTimer
from fanlight.frames.layout_of import FirstSeen, read_layout, see_first
from fanlight.frames.overlay import overlay_of
from fanlight.frames.polar import to_grey_and_beams
from fanlight.frames.screen_text import ScreenReader, ScreenReaderMissingError, stands_still
from fanlight.intake import FileRefusedError, Item, Limits, open_frames
from fanlight.measure.from_strip import StripCase, is_measured, measure_strip
from fanlight.recognise.beat_frames import BeatFrames
from fanlight.recognise.mode import read_mode
from fanlight.recognise.named_view import read_named_view
from fanlight.recognise.picture_network import PictureNetworkMissingError, shipped_network
from fanlight.recognise.picture_reading import read_picture, why_not_asked
from fanlight.reference.criteria import read_family
from fanlight.reference.flow_valve import flow_valve
from fanlight.review.stages import LAYOUT_TABLES, family_tables
from fanlight.review.worker import Beat
from fanlight.study import (
    Clip,
    ClipTime,
    FileMarks,
    Finding,
    FrameChunk,
    FrameDamageError,
    House,
    Layout,
    Measurement,
    Mode,
    ModeReading,
    Patient,
    Picture,
    PictureChunk,
    PictureReading,
    Point,
    Refusal,
    ScreenText,
    Sector,
    ViewReading,
)

Clock = Callable[[], float]  # seconds from any beginning

CHUNK = 32
# The first text read in a process loads two models (about a second here; a cold, loaded machine takes many times that),
# the first picture looked at loads another.
_MODEL_WITHIN_S = 90.0
_STAGE_WITHIN_S = 30.0


@dataclass(frozen=True, slots=True, kw_only=True)
class FramesRead:
    """How far the decoding went."""

    n: int
    damaged_frame: int | None = None  # counted from 0
    damage: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class ClipPass:
    """Results of the stages that ran. None: was known already and did not run."""

    frames: FramesRead
    layout: Layout
    mode: ModeReading
    view: ViewReading
    time: ClipTime
    picture: PictureReading
    measured: tuple[Measurement, ...]
    families: tuple[tuple[str, tuple[Finding, ...]], ...]
    seconds: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """Results from earlier runs that still hold; families that are named need not run."""

    layout: Layout | None = None
    mode: ModeReading | None = None
    view: ViewReading | None = None
    time: ClipTime | None = None
    picture: PictureReading | None = None
    measured: tuple[Measurement, ...] | None = None
    families: tuple[str, ...] = ()


class _Stopwatch:
    def __init__(self, clock: Clock) -> None:
        self._clock = clock
        self.seconds: dict[str, float] = defaultdict(float)

    @contextmanager
    def on(self, stage: str) -> Iterator[None]:
        start = self._clock()
        try:
            yield
        finally:
            self.seconds[stage] += self._clock() - start


class _Readers:
    """The screen readers of this process: building one loads two models, and each remembers what it read."""

    def __init__(self) -> None:
        self._by_house: dict[str, ScreenReader] = {}

    def read(self, pixels: NDArray[np.uint8], picture: Picture | None, house: House) -> tuple[ScreenText, ...]:
        key = house.fingerprint(LAYOUT_TABLES)
        if key not in self._by_house:
            # What a clip says must not hang on which clips this process happened to read before it.
            self._by_house = {key: ScreenReader(house, same_pixels_only=True)}
        return self._by_house[key].read(overlay_of(pixels), picture, has_stood_still=stands_still(pixels))


_READERS = _Readers()  # belongs to the worker process, which reads one clip at a time


def grab_frame(item: Item, clip: Clip, limits: Limits, index: int, *, beat: Beat) -> NDArray[np.uint8]:
    """Return one frame, (row, col) or (row, col, 3); worker task."""
    beat(f"decoding frame {index + 1}", within_s=_STAGE_WITHIN_S)
    with open_frames(item, clip, limits) as frames:
        for chunk in frames.chunks(1):
            if chunk.first == index:
                return np.array(chunk.pixels[0])
    raise ValueError(f"clip {clip.number} has no frame {index + 1}")


def _without_identity(texts: tuple[ScreenText, ...]) -> tuple[ScreenText, ...]:
    """Texts that may name somebody keep their place and lose their words: they never leave this process."""
    return tuple(item if item.is_technical else replace(item, text="") for item in texts)


def _marked(marks: FileMarks | None) -> tuple[Point, Point, float] | None:
    if marks is None or marks.scale is None:
        return None
    return marks.scale.start, marks.scale.end, marks.scale.distance_mm


@dataclass
class _FirstLook:
    layout: Layout
    mode: ModeReading
    view: ViewReading
    seen: FirstSeen | None = None  # None: all was known before


def _texts(pixels: NDArray[np.uint8], picture: Picture | None, house: House) -> tuple[tuple[ScreenText, ...], str]:
    """Return what stands on the screen, and why it was not read: without a reader the clip is read all the same."""
    try:
        return _READERS.read(pixels, picture, house), ""
    except ScreenReaderMissingError as error:
        return (), str(error)


def _first_look(
    clip: Clip, first: FrameChunk, known: Known, house: House, marks: FileMarks | None, watch: _Stopwatch, beat: Beat
) -> _FirstLook:
    """Settle what stands where on the screen, the mode and the named view, from the first chunk."""
    layout, view, seen = known.layout, known.view, None
    if layout is None or view is None:
        beat("finding the picture", within_s=_STAGE_WITHIN_S)
        with watch.on("layout"):
            seen = see_first(clip, first.pixels)
        beat("reading the screen", within_s=_MODEL_WITHIN_S)
        with watch.on("screen text"):
            texts, unread = _texts(first.pixels, seen.found[0], house)
        if view is None:
            with watch.on("view"):
                view = read_named_view(clip, texts, marks, house)
                if unread and not view.view:
                    view = replace(view, reason=f"{view.reason}; {unread}")
        if layout is None:
            beat("settling the scale", within_s=_STAGE_WITHIN_S)
            with watch.on("layout"):
                layout = read_layout(clip, first.pixels, texts, _marked(marks), seen=seen)
                layout = replace(layout, texts=_without_identity(layout.texts))
                if unread and layout.scale is None:
                    layout = replace(layout, scale_reason=f"{layout.scale_reason}; {unread}")
    mode = known.mode
    if mode is None:
        beat("telling the mode", within_s=_STAGE_WITHIN_S)
        with watch.on("mode"):
            mode = read_mode(clip, layout, first.pixels)
    return _FirstLook(layout=layout, mode=mode, view=view, seen=seen)


def read_clip(
    item: Item,
    clip: Clip,
    patient: Patient,
    house: House,
    marks: FileMarks | None,
    known: Known,
    limits: Limits,
    *,
    beat: Beat,
    clock: Clock = time.perf_counter,
) -> ClipPass | Refusal:
    """Read one clip from its file, or return why it cannot be; worker task. The clock times the stages.

    Raises
    ------
    FrameDamageError
        When not even the first frame can be decoded.
    """
    try:
        return _read_frames(item, clip, patient, house, marks, known, limits, beat, _Stopwatch(clock))
    except FileRefusedError as error:
        return error.refusal


def _read_frames(
    item: Item,
    clip: Clip,
    patient: Patient,
    house: House,
    marks: FileMarks | None,
    known: Known,
    limits: Limits,
    beat: Beat,
    watch: _Stopwatch,
) -> ClipPass:
    look: _FirstLook | None = None
    timer: ClipTimer | None = None
    beat_frames: BeatFrames | None = None
    families: list[tuple[str, Accumulator]] = []
    last: NDArray[np.uint8] | None = None
    n_read = 0
    damage: FrameDamageError | None = None
    # A sign of life after each frame: 32 frames of JPEG 2000 can take longer than one frame may.
    with open_frames(item, clip, limits, lambda n: beat("decoding", done=n)) as frames:
        chunks = frames.chunks(CHUNK)
        while True:
            beat("decoding", done=n_read)
            try:
                with watch.on("decode"):
                    chunk = next(chunks, None)
            except FrameDamageError as error:
                if n_read == 0:
                    raise
                damage = error
                break
            if chunk is None:
                break
            if look is None:
                look = _first_look(clip, chunk, known, house, marks, watch, beat)
                timer = None if known.time is not None else ClipTimer(clip, look.layout, look.seen)
                beat_frames = _start_picture(look) if known.picture is None else None
                families = _start_families(clip, patient, look, house, marks, known)
            beat("looking", within_s=_STAGE_WITHIN_S, done=n_read)
            with watch.on("grey and beams"):
                shown = _shown(chunk, look.layout.picture)
            if timer is not None:
                with watch.on("time"):
                    timer.add(shown)
            if beat_frames is not None:
                with watch.on("picture"):
                    beat_frames.add(shown)
            for name, accumulator in families:
                with watch.on(f"critique.{name}"):
                    accumulator.add(shown)
            last = chunk.pixels[-1]
            n_read += len(chunk)
    if look is None:
        raise FrameDamageError(0, "the clip holds no frame")
    beat("finding the beats", within_s=_STAGE_WITHIN_S, done=n_read)
    with watch.on("time"):
        clip_time = known.time if timer is None else timer.finish()
    assert clip_time is not None
    beat("looking at the picture", within_s=_MODEL_WITHIN_S, done=n_read)
    with watch.on("picture"):
        picture = known.picture or _picture(look, beat_frames, clip_time)
    beat("measuring", within_s=_STAGE_WITHIN_S, done=n_read)
    with watch.on("measuring"):
        measured = known.measured
        if measured is None:
            measured = _measured(look, last, n_read - 1, house, marks)
    beat("judging", within_s=_STAGE_WITHIN_S, done=n_read)
    results = []
    for name, accumulator in families:
        with watch.on(f"critique.{name}"):
            results.append((name, accumulator.finish(clip_time)))
    return ClipPass(
        frames=FramesRead(
            n=n_read, damaged_frame=damage.frame if damage else None, damage=damage.found if damage else ""
        ),
        layout=look.layout,
        mode=look.mode,
        view=look.view,
        time=clip_time,
        picture=picture,
        measured=measured,
        families=tuple(results),
        seconds=tuple(sorted(watch.seconds.items())),
    )


def _start_picture(look: _FirstLook) -> BeatFrames | None:
    picture = look.layout.picture
    if why_not_asked(look.mode, look.layout) or not isinstance(picture, Sector):
        return None
    return BeatFrames(picture, with_colour=look.mode.mode is Mode.COLOUR)


def _picture(look: _FirstLook, frames: BeatFrames | None, time: ClipTime) -> PictureReading:
    """Ask the network; without it everything else is read all the same, and the reading says why it is silent."""
    picture = look.layout.picture
    if frames is None or not isinstance(picture, Sector):
        return PictureReading(reason=why_not_asked(look.mode, look.layout))
    try:
        return read_picture(shipped_network(), frames, picture, time)
    except PictureNetworkMissingError as error:
        return PictureReading(reason=str(error))
    except Exception as error:  # onnxruntime's own errors share no base; the rest of the clip must not be lost for them
        return PictureReading(reason=f"nothing is recognised from the pixels: the network failed ({error})")


def _measured(
    look: _FirstLook, last: NDArray[np.uint8] | None, frame: int, house: House, marks: FileMarks | None
) -> tuple[Measurement, ...]:
    """Measure a strip by its last frame, which shows all of it; other clips have nothing to measure here."""
    if last is None or look.mode.mode is None or not is_measured(look.mode.mode):
        return ()
    return measure_strip(
        StripCase(
            pixels=np.asarray(last),
            frame=frame,
            layout=look.layout,
            mode=look.mode.mode,
            view=look.view,
            depth=None if marks is None else marks.scale,
            marked=() if marks is None else marks.axes,
        ),
        house,
    )


def _start_families(
    clip: Clip, patient: Patient, look: _FirstLook, house: House, marks: FileMarks | None, known: Known
) -> list[tuple[str, Accumulator]]:
    shared: dict[str, Any] = {}
    tell(shared, replace(look.view, valve=flow_valve(look.view, look.mode.mode, house)), marks)
    return [
        (
            family.name,
            family.start(
                ClipContext(
                    clip=clip,
                    patient=patient,
                    layout=look.layout,
                    mode=look.mode,
                    criteria=read_family(house, family.name),
                    house=house.fingerprint(family_tables(family.name)),
                    shared=shared,
                )
            ),
        )
        for family in EVERY_FAMILY
        if family.name not in known.families
    ]


def _shown(chunk: FrameChunk, picture: Picture | None) -> PictureChunk:
    grey, beams = to_grey_and_beams(chunk.pixels, picture)
    return PictureChunk(first=chunk.first, pixels=chunk.pixels, grey=grey, beams=beams)
