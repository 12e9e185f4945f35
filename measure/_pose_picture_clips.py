"""Clips of one animal through the pixels and by hand: right planes, one fault of the hand, a wrong name."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from fanlight.coach.movements.named import named_movements
from fanlight.frames.polar import to_grey
from fanlight.heart.fit.seen import ClipSeen, Moment
from fanlight.heart.standard_poses import view_window
from fanlight.plane.pose.stands import with_stands
from fanlight.recognise.beat_frames import BeatFrames
from fanlight.recognise.picture_network import shipped_network
from fanlight.recognise.picture_reading import read_picture
from fanlight.reference.load import load_house
from fanlight.reference.movements import read_movements
from fanlight.reference.plane import read_plane_tables
from fanlight.simulate.clip.ring import Ring
from fanlight.simulate.faults.faults import FAULTS
from fanlight.simulate.visit.hand_level import HandLevel
from fanlight.study import (
    BeatSource,
    Clip,
    ClipReading,
    ClipTime,
    DrawnMark,
    FileMarks,
    FrameTimes,
    Layout,
    MarkKind,
    Mode,
    ModeReading,
    Patient,
    PictureChunk,
    Scale,
    ScaleSource,
    Sector,
    TimeSource,
    ViewReading,
    ViewSource,
)
from measure._criterion_clips import MOST_COVERED, BeamStore, Stand, Subject, covered_fraction, draw_subject
from measure._pose_cases import Quality, added, pose_after, scatter_of, scattered, seen_at
from measure._pose_subject import GRADES, KINDS, Amounts

Record = dict[str, Any]
FOUR, APICAL = "right_parasternal_long_axis_four_chamber", "left_apical_four_chamber"
VIEWS = (
    FOUR, "right_parasternal_long_axis_outflow", "right_parasternal_short_axis_mitral_valve",
    "right_parasternal_short_axis_aorta", APICAL,
)  # fmt: skip
MARKED = (5, 8, 14)  # landmarks that a person names in a clip
HAND = Quality(noise_fraction=0.012, overlooked_fraction=0.0)  # one standard deviation of a mark, share of the depth
ENDS_WITHIN, CONTRACTED = 0.15, 0.8  # of a beat from its start; of the contraction at the end of systole
FRAME = {Moment.END_DIASTOLE: 0, Moment.END_SYSTOLE: 6}  # of clips that nobody films
HOUSE = load_house()
SETTINGS, _SHIPPED = read_plane_tables(HOUSE).settings, read_movements(HOUSE)
# What would be named if the House let the network's landmarks advise.
TABLES = replace(_SHIPPED, limits=replace(_SHIPPED.limits, network_advises=True))


def measure_subject(job: tuple[int, Ring]) -> Record:
    """Return what is named of one animal: from pictures, from marks, and of what is no picture of the view named."""
    seed, ring = job
    subject = draw_subject(seed, ring)
    rng = np.random.default_rng([seed, 401])
    steady, improving = (scatter_of(ring, level, seed) for level in (HandLevel.STEADY, HandLevel.IMPROVING))
    k = subject.animal.thorax.scale_ratio
    record: Record = {"seed": seed, "heart": subject.animal.heart.value, "picture": [], "marks": [], "wrong": []}
    for place, view in enumerate(VIEWS):
        fault = _fault(tuple(KINDS)[(seed + place) % len(KINDS)], rng, k)
        for wrong, scatter in (({}, steady), (fault, improving)):
            true = added(wrong, scattered(scatter, k, rng))
            record["marks"] += _marked(subject, view, wrong, true, rng)
            if (reading := _filmed(subject, view, true)) is not None:
                record["picture"].append({"view": view, **_told(reading, None, wrong, true)})
                if not wrong:
                    record["wrong"] += _misnamed(reading)
    return record


def _fault(kind: Any, rng: np.random.Generator, k: float) -> Amounts:
    fault = FAULTS[KINDS[kind][int(rng.integers(2))]]
    amount = float(fault.steps[int(rng.choice(GRADES)) - 1])
    return {kind: amount * (k if fault.grows_with_body else 1.0)}


def _filmed(subject: Subject, view: str, true: Amounts) -> ClipReading | None:
    """Return the reading of a clip of this pose, None where lung or ribs cover the view or no hand can stand so."""
    stand = Stand(subject, view, BeamStore(None))
    breath = max(state.breath for state in stand.film(stand.good).states)
    if covered_fraction(subject.animal, stand.good, breath) > MOST_COVERED:
        return None
    try:
        setting = replace(stand.good, pose=pose_after(subject.animal, view, true))
    except ValueError:  # the slide would leave this side of the chest
        return None
    film = stand.film(setting)
    screen = stand.clip(setting, film, "unkept")
    sector = screen.placed.sector
    phases = [(abs((state.phase + 0.5) % 1.0 - 0.5), state.contraction) for state in film.states]
    time = ClipTime(
        times=FrameTimes(times_ms=film.times_ms, source=TimeSource.FRAME_TIME), beat_source=BeatSource.ECG_TRACE,
        beat_period_frames=film.rate_hz * film.rr_ms / 1000,
        end_diastole_frames=(min(range(len(phases)), key=lambda at: phases[at][0]),),
        end_systole_frames=(max(range(len(phases)), key=lambda at: phases[at][1]),),
    )  # fmt: skip
    frames = BeatFrames(sector)
    frames.add(PictureChunk(first=0, pixels=screen.frames, grey=to_grey(screen.frames), beams=None))
    picture = read_picture(shipped_network(), frames, sector, time)
    return replace(_reading(view, sector, screen.placed.mm_per_px, time), picture=picture)


def _reading(view: str, sector: Sector, mm_per_px: float, time: ClipTime) -> ClipReading:
    scale = Scale(
        mm_per_row_px=mm_per_px, mm_per_col_px=mm_per_px, source=ScaleSource.REGION, uncertainty_fraction=0.01,
        witnesses=(),
    )  # fmt: skip
    return ClipReading(
        clip=Clip(
            key="k", number=1, name="k.dcm", container="DICOM", rows=768, cols=1024, n_frames=12, is_colour=False
        ),
        layout=Layout(
            rows=768, cols=1024, picture=sector, picture_confidence=1.0, picture_reason="simulated", scale=scale,
            scale_reason="simulated",
        ),
        mode=ModeReading(mode=Mode.TWO_D, probability=1.0, reasons=()),
        view=ViewReading(view=view, source=ViewSource.MENTOR), time=time, findings=(), verdicts=(), frames_read=12,
    )  # fmt: skip


def _told(reading: ClipReading, marks: FileMarks | None, wrong: Amounts, true: Amounts) -> Record:
    """Return what is named of a clip beside what is true."""
    drawn = {} if marks is None else {reading.clip.key: marks}
    stands = with_stands([reading], Patient(), SETTINGS, TABLES.limits, drawn)
    named = named_movements(stands, TABLES)
    clip = next((each for stand in stands for each in stand.clips), None)
    return {
        "fault": [[kind.value, 1 if amount > 0 else -1] for kind, amount in wrong.items()],
        "true": {kind.value: amount for kind, amount in true.items()},
        "limits": {} if clip is None else {one.movement: one.limit for one in clip.offsets},
        "is_fitted": clip is not None, "silent": "" if clip is None else clip.silent,
        "named": [[*item.move] for item in named if item.other is None],
        "pairs": [[[*item.move], [*item.other]] for item in named if item.other is not None],
    }  # fmt: skip


def _marked(subject: Subject, view: str, wrong: Amounts, true: Amounts, rng: np.random.Generator) -> list[Record]:
    """Return what is named from so many of a person's marks, and of the same under the name of another window."""
    try:
        seen = seen_at(subject.animal, view, pose_after(subject.animal, view, true), rng, HAND)
    except ValueError:
        return []
    found: list[Record] = []
    for n in MARKED:
        marks = drawn_marks(seen, n, rng)
        if marks is None:
            continue
        for name in (view, *(() if wrong else (_other(view),))):
            told = _told(_unfilmed(seen, name), marks, wrong, true)
            found.append({"view": view, "n": n, "is_wrong": name != view, **told})
    return found


def drawn_marks(seen: ClipSeen, n: int, rng: np.random.Generator) -> FileMarks | None:
    """Return what a person marks who names n landmarks of a clip at both ends of the beat; None where it has fewer."""
    names = sorted({one.landmark for one in seen.seen})
    if len(names) < n:
        return None
    chosen = {names[at] for at in rng.permutation(len(names))[:n]}
    drawn = tuple(
        DrawnMark(
            kind=MarkKind.POINT, frame=FRAME[one.moment], points=((one.down_mm * PX, one.right_mm * PX),),
            landmark=one.landmark.name,
        )
        for one in seen.seen
        if one.landmark in chosen
    )  # fmt: skip
    return FileMarks(name="k.dcm", drawn=drawn)


PX = 4.0  # of a clip that nobody films, a millimetre


def _unfilmed(seen: ClipSeen, view: str) -> ClipReading:
    sector = Sector(
        apex_row_px=0.0, apex_col_px=0.0, left_deg=-seen.half_width_deg, right_deg=seen.half_width_deg, near_px=0.0,
        far_px=seen.depth_mm * PX,
    )  # fmt: skip
    time = ClipTime(
        times=FrameTimes(times_ms=(), source=TimeSource.NONE), beat_source=BeatSource.ECG_TRACE,
        beat_period_frames=12.0, end_diastole_frames=(FRAME[Moment.END_DIASTOLE],),
        end_systole_frames=(FRAME[Moment.END_SYSTOLE],),
    )  # fmt: skip
    return _reading(view, sector, 1.0 / PX, time)


def _other(view: str) -> str:
    return APICAL if view_window(view) is not view_window(APICAL) else FOUR


def _misnamed(reading: ClipReading) -> Sequence[Record]:
    """Return what is named of a right picture that bears the name of another window."""
    other = replace(reading, view=replace(reading.view, view=_other(reading.view.view)))
    return [{"view": reading.view.view, **_told(other, None, {}, {})}]
