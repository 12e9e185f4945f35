"""How well marks are followed through the beat: simulated hearts, whose landmarks are known at every moment.

Ring A only (seeds below 10000): error factor and windows were chosen there, so these figures flatter.

    scripts/measure tracking
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(ROOT))

from fanlight.heart.animal import Animal, animal_axes, animal_landmarks, sample  # noqa: E402
from fanlight.heart.axis import Axis  # noqa: E402
from fanlight.heart.tissue import Tissue  # noqa: E402
from fanlight.measure.followed_mark import FollowedMark, follow_mark, wanted_frames  # noqa: E402
from fanlight.measure.shapes import Pixel  # noqa: E402
from fanlight.reference.tracking import read_track_settings  # noqa: E402
from fanlight.simulate.clip.one_beat import OneBeat, one_beat  # noqa: E402
from fanlight.simulate.clip.ring import Ring  # noqa: E402
from fanlight.simulate.steady.steady import steady_setting  # noqa: E402
from fanlight.study import Landmark  # noqa: E402
from measure._criterion_clips import HOUSE, draw_subject  # noqa: E402
from scripts.measured import write_table  # noqa: E402

SEEDS = range(100, 148)
VIEWS = (
    "right_parasternal_long_axis_four_chamber",
    "left_apical_four_chamber",
    "right_parasternal_long_axis_outflow",
)
BEATS = 2.4  # a whole beat on from the mark, with room
OFF_PLANE_MM = 2.5  # a landmark that leaves the image plane further cannot be seen, so not be followed
# Places that are fixed to tissue; tips of leaflets and centres of chambers are not.
TISSUE = (
    Landmark.MITRAL_SEPTAL_HINGE,
    Landmark.MITRAL_PARIETAL_HINGE,
    Landmark.TRICUSPID_SEPTAL_HINGE,
    Landmark.TRICUSPID_PARIETAL_HINGE,
    Landmark.AORTIC_SEPTAL_HINGE,
    Landmark.AORTIC_MITRAL_HINGE,
    Landmark.FOSSA_OVALIS,
    Landmark.LA_ROOF,
    Landmark.LV_APEX,
)
LINES = (
    ("mitral annulus, hinge to hinge", Landmark.MITRAL_SEPTAL_HINGE, Landmark.MITRAL_PARIETAL_HINGE),
    ("tricuspid annulus, hinge to hinge", Landmark.TRICUSPID_SEPTAL_HINGE, Landmark.TRICUSPID_PARIETAL_HINGE),
    ("aortic annulus, hinge to hinge", Landmark.AORTIC_SEPTAL_HINGE, Landmark.AORTIC_MITRAL_HINGE),
    ("left ventricle, apex to septal hinge", Landmark.LV_APEX, Landmark.MITRAL_SEPTAL_HINGE),
)
DIAMETER = "left ventricle, septum to free wall"
WALL = (int(Tissue.SEPTUM), int(Tissue.LV_FREE_WALL))
STEP_MM = 0.1  # along the line on which a wall is looked for
REACH_MM = 60.0
DESCRIBES = (
    "src/fanlight/measure/tracking.py",
    "src/fanlight/measure/followed_mark.py",
    "src/fanlight/measure/shapes.py",
    "src/fanlight/reference/tables/tracking.toml",
    "measure/tracking.py",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sample:
    """One frame of one mark that was followed."""

    what: str
    miss: float  # |followed - true|, mm
    shown: float  # the error beside it, mm
    size: float  # of the true length; of a point, how far it truly moves


@dataclass(slots=True)
class Tally:
    """All that was followed of one kind."""

    samples: list[Sample]
    n_marks: int = 0
    n_cut: int = 0  # marks whose track was stopped before its end


def true_points(clip: OneBeat, animal: Animal, places: Sequence[Landmark]) -> np.ndarray:
    """Return where landmarks truly lie: (frame, place, row px, col px, off plane mm)."""
    sector, scale = clip.picture, clip.layout.scale
    assert scale is not None
    rows = []
    for state, time_ms in zip(clip.film.states, clip.film.times_ms, strict=True):
        points = animal_landmarks(animal, state)
        pose = clip.film.pose_at(time_ms)
        there = [pose.to_probe(points[place]) for place in places]
        rows.append(
            [
                (
                    sector.apex_row_px + sector.near_px + float(depth) / scale.mm_per_row_px,
                    sector.apex_col_px + float(across) / scale.mm_per_col_px,
                    float(off),
                )
                for across, off, depth in there
            ]
        )
    return np.array(rows)


def diameter_ends(clip: OneBeat, animal: Animal, frame: int) -> np.ndarray | None:
    """Return where septum and free wall begin on a line across the ventricle's middle, (2, row and col) in pixels.

    None where the line meets no wall on one side within the picture. What hangs in the cavity is passed over.
    """
    state, pose = clip.film.states[frame], clip.film.pose_at(clip.film.times_ms[frame])
    scale, sector = clip.layout.scale, clip.picture
    assert scale is not None
    centre = animal_landmarks(animal, state)[Landmark.LV_CENTRE]
    along = animal_axes(animal, state)[Axis.LV_LONG]
    across = np.cross(along, pose.y)  # in the plane, at right angles to the long axis
    across /= np.linalg.norm(across)
    middle = centre - float(pose.to_probe(centre)[1]) * np.asarray(pose.y)  # into the plane
    ends = []
    for sense in (-1.0, 1.0):
        way = middle + sense * np.arange(0, REACH_MM, STEP_MM)[:, None] * across
        tissue = np.asarray(sample(animal, state, *(way[:, i].astype(np.float32) for i in range(3))).tissue)
        first = np.flatnonzero(np.isin(tissue, WALL))
        if len(first) == 0:
            return None
        x, _, depth = pose.to_probe(way[first[0]])
        ends.append(
            (
                sector.apex_row_px + sector.near_px + float(depth) / scale.mm_per_row_px,
                sector.apex_col_px + float(x) / scale.mm_per_col_px,
            )
        )
    found = np.array(ends)
    return found if is_seen(clip, np.column_stack([found, np.zeros(2)])) else None


def is_seen(clip: OneBeat, path: np.ndarray) -> bool:
    """Return whether a place lies in plane and picture on every frame."""
    sector = clip.picture
    down, aside = path[:, 0] - sector.apex_row_px, path[:, 1] - sector.apex_col_px
    angle = np.degrees(np.arctan2(aside, down))
    inside = (np.hypot(down, aside) < sector.far_px) & (angle > sector.left_deg) & (angle < sector.right_deg)
    return bool(np.all(inside) and np.all(np.abs(path[:, 2]) <= OFF_PLANE_MM))


def follow_in(clip: OneBeat, kind: str, points: np.ndarray) -> FollowedMark:
    """Follow places from end-diastole on, as the desk does; points are (place, row and col) on that frame."""
    settings, scale = read_track_settings(HOUSE), clip.layout.scale
    assert scale is not None
    marked, period = clip.time.end_diastole_frames[0], clip.time.beat_period_frames
    first, last = wanted_frames(len(clip.frames), marked, period, settings)
    return follow_mark(
        clip.frames[first : last + 1], kind, tuple((float(r), float(c)) for r, c in points), marked - first, settings,
        pixel=Pixel(down=scale.mm_per_row_px, across=scale.mm_per_col_px), period_frames=period, first=first,
    )  # fmt: skip


def look_at(clip: OneBeat, animal: Animal, points: Tally, lines: dict[str, Tally]) -> None:
    """Add what is followed in one clip."""
    true = true_points(clip, animal, TISSUE)
    scale = clip.layout.scale
    assert scale is not None
    mm, marked = scale.mm_per_row_px, clip.time.end_diastole_frames[0]
    seen = [k for k in range(len(TISSUE)) if is_seen(clip, true[:, k])]
    for k in seen:
        found = follow_in(clip, "point", true[marked, k : k + 1, :2])
        path = true[found.first : found.first + len(found.points), k, :2]
        miss = np.linalg.norm(np.array([p[0] for p in found.points]) - path, axis=-1) * mm
        moves = float(np.linalg.norm(true[:, k, :2] - true[marked, k, :2], axis=-1).max() * mm)
        add(points, "point", found, miss, found.errors, [moves] * len(miss))
    for name, one, two in LINES:
        ends = [TISSUE.index(one), TISSUE.index(two)]
        if not set(ends) <= set(seen):
            continue
        found = follow_in(clip, "line", true[marked][ends][:, :2])
        there = true[found.first : found.first + len(found.points)][:, ends, :2]
        length = np.linalg.norm(there[:, 0] - there[:, 1], axis=-1) * mm
        curve = found.curves[0]
        add(lines[name], name, found, np.abs(np.array(curve.values) - length), curve.errors, list(length))
    look_across(clip, animal, lines[DIAMETER])


def look_across(clip: OneBeat, animal: Animal, tally: Tally) -> None:
    """Follow the ends of the diameter of end-diastole; true is what the walls leave free across the middle later on."""
    scale, marked = clip.layout.scale, clip.time.end_diastole_frames[0]
    assert scale is not None
    start = diameter_ends(clip, animal, marked)
    if start is None:
        return
    found = follow_in(clip, "line", start)
    ends = [diameter_ends(clip, animal, found.first + k) for k in range(len(found.points))]
    if any(each is None for each in ends):
        return
    length = np.array([np.linalg.norm(each[0] - each[1]) for each in ends if each is not None]) * scale.mm_per_row_px
    curve = found.curves[0]
    add(tally, DIAMETER, found, np.abs(np.array(curve.values) - length), curve.errors, list(length))


def add(
    tally: Tally, what: str, found: FollowedMark, miss: np.ndarray, shown: Iterable[float], sizes: Sequence[float]
) -> None:
    tally.n_marks += 1
    tally.n_cut += bool(found.stopped)
    frames = range(found.first, found.first + len(found.points))
    tally.samples += [
        Sample(what=what, miss=float(m), shown=float(e), size=float(s))
        for k, m, e, s in zip(frames, miss, shown, sizes, strict=True)
        if k != found.marked
    ]


def row(title: str, tally: Tally) -> str:
    miss = np.array([each.miss for each in tally.samples])
    shown = np.array([each.shown for each in tally.samples])
    size = float(np.median([each.size for each in tally.samples]))
    inside = 100 * float(np.mean(miss <= shown))
    share = f"{100 * np.median(miss) / size:.1f} / {100 * np.percentile(miss, 95) / size:.1f}"
    return (
        f"| {title} | {tally.n_marks} | {tally.n_cut} | {len(miss)} | {size:.1f} | {np.median(miss):.2f} | "
        f"{np.percentile(miss, 95):.2f} | {share} | {np.median(shown):.2f} | {inside:.0f} |"
    )


def main() -> None:
    points, lines = Tally([]), {name: Tally([]) for name in (DIAMETER, *(each[0] for each in LINES))}
    for seed in SEEDS:
        subject = draw_subject(seed, Ring.A)
        view = VIEWS[seed % len(VIEWS)]
        try:
            setting = steady_setting(subject.animal, view)
        except ValueError as error:  # no window shows this view in this animal
            print(f"seed {seed}: {error}", file=sys.stderr)
            continue
        clip = one_beat(
            subject.animal, setting, np.random.default_rng([seed, 5]), start_ms=subject.start_ms, beats=BEATS
        )
        look_at(clip, subject.animal, points, lines)
        print(f"seed {seed}: {points.n_marks} points, {len(points.samples)} frames", file=sys.stderr, flush=True)
    head = (
        "| what | marks | stopped early | frames | median size or way, mm | median error, mm | 95 % error, mm | "
        "median / 95 % of the size | shown error, median ± mm | true error inside the shown one, % |\n"
        "|---|---|---|---|---|---|---|---|---|---|\n"
    )
    body = [row("point fixed to tissue", points)]
    body += [row(name, tally) for name, tally in lines.items() if tally.samples]
    write_table(
        ROOT / "docs" / "marks.md", "tracking", head + "\n".join(body), script="measure/tracking.py",
        describes=DESCRIBES, seeds=f"ring A, {SEEDS.start} to {SEEDS.stop - 1}, a clip of {BEATS:g} beats each",
    )  # fmt: skip


if __name__ == "__main__":
    main()
