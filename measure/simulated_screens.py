"""Measure what the finders read off the simulator's screens, and write the table in docs/simulator.md.

The sector is plain speckle with a beating hole: this is about screens, not about hearts. Rings A and B share their
screens; those of ring C were drawn before anyone had seen what the finders make of them, and nothing is tuned on them.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from fanlight.frames.ecg import EcgTrace
from fanlight.frames.find_picture import find_picture
from fanlight.frames.layout_of import read_layout
from fanlight.frames.polar import to_grey
from fanlight.frames.screen_text import ScreenReader, overlay_of
from fanlight.heart.rhythm import beats, draw_rhythm
from fanlight.reference.load import load_house
from fanlight.simulate.screen.ecg_strip import EcgStrip
from fanlight.simulate.screen.ecg_trace import draw_noise, record_ecg
from fanlight.simulate.screen.screen_layout import Layout
from fanlight.simulate.screen.screen_layouts import LAYOUTS
from fanlight.simulate.screen.screen_layouts_shifted import SHIFTED_LAYOUTS
from fanlight.simulate.screen.screen_truth import Screen
from fanlight.study import Clip, FrameTimes, PictureChunk, Sector, Species, TimeSource
from scripts.measured import write_table
from tests.simulate.screen_stand_ins import two_d

ROOT = Path(__file__).resolve().parent.parent
# depth in mm, radius of the face in mm, half of the opening in degrees: a cat, a middle dog, a large dog's curved array
SECTORS = ((50.0, 0.0, 40.0), (100.0, 0.0, 38.0), (170.0, 15.0, 32.0))
FRAMES, STEP_MS, LEAD_MS = 64, 25.0, 9000.0
SEED = 4
R_WITHIN_FRAMES = 1.0
DESCRIBES = [
    "measure/simulated_screens.py",
    "src/fanlight/simulate/screen/screen_ecg.py",
    "src/fanlight/simulate/screen/screen_furniture.py",
    "src/fanlight/simulate/screen/screen_layouts.py",
    "src/fanlight/simulate/screen/screen_layouts_shifted.py",
    "src/fanlight/simulate/screen/screen_place.py",
    "src/fanlight/simulate/screen/screen_words.py",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Read:
    """What one screen gave."""

    corner_px: float | None  # largest error of a corner; None: no fan was found
    scale_fraction: float | None  # error of the size of a pixel without regions; None: none was claimed
    words_read: int
    words: int
    names_kept: int  # identity that counts as technical
    r_found: int  # within a frame of a true R wave
    r_false: int
    r_true: int


def recording(rng: np.random.Generator) -> EcgStrip:
    """A calm dog's ECG, from some seconds before the clip."""
    rhythm = draw_rhythm(species=Species.DOG, weight_kg=12.0, rng=rng)
    duration_ms = FRAMES * STEP_MS
    noise = draw_noise(rng, mains_mv=0.015, muscle_mv=0.01)
    return record_ecg(rhythm, beats(rhythm, duration_ms, lead_ms=LEAD_MS), duration_ms, lead_ms=LEAD_MS, noise=noise)


def read(layout: Layout, sector: tuple[float, float, float], reader: ScreenReader) -> Read:
    """Paint one screen and read it."""
    rng = np.random.default_rng(SEED)
    ecg = recording(rng)
    depth_mm, face_radius_mm, half_deg = sector
    times_ms = tuple(index * STEP_MS for index in range(FRAMES))
    screen = two_d(
        layout, rng, FRAMES, depth_mm=depth_mm, face_radius_mm=face_radius_mm, half_deg=half_deg, beating=True,
        times_ms=times_ms, ecg=ecg,
    )  # fmt: skip
    first = screen.frames[:32]
    found = find_picture(to_grey(first))
    texts = reader.read(overlay_of(first), found[0])
    rows, cols = screen.frames.shape[1:3]
    clip = Clip(
        key="k", number=1, name="clip", container="DICOM", rows=rows, cols=cols, n_frames=FRAMES, is_colour=True
    )
    scale = read_layout(clip, first, texts, found=found).scale
    run = "".join("".join(item.text.split()) for item in texts).lower()
    kept = [
        name.text
        for name in screen.texts
        for item in texts
        if name.identity and item.is_technical and item.box.overlap_px(name.box) > 0.5 * name.box.area_px
    ]
    trace = EcgTrace()
    trace.start(first, found[0])
    trace.add(PictureChunk(first=0, pixels=screen.frames, grey=to_grey(screen.frames), beams=None))
    waves = trace.finish(FrameTimes(times_ms=times_ms, source=TimeSource.FRAME_TIME)).r_frames
    true = [t / STEP_MS for t in ecg.r_times_ms if 0 <= t <= times_ms[-1]]
    hits = sum(any(abs(wave - frame) <= R_WITHIN_FRAMES for wave in waves) for frame in true)
    return Read(
        corner_px=corner_px(found[0], screen) if isinstance(found[0], Sector) else None,
        scale_fraction=None if scale is None else scale.mm_per_row_px / screen.placed.mm_per_px - 1,
        words_read=sum("".join(item.text.split()).lower() in run for item in screen.texts),
        words=len(screen.texts),
        names_kept=len(kept),
        r_found=hits,
        r_false=sum(all(abs(wave - frame) > R_WITHIN_FRAMES for frame in true) for wave in waves),
        r_true=len(true),
    )


def corner_px(found: Sector, screen: Screen) -> float:
    """Largest distance between a corner that was found and the true one."""
    corners = [(depth, beam) for depth in (0.0, 1.0) for beam in (0.0, 1.0)]
    errors = [np.subtract(found.point(*at), screen.placed.sector.point(*at)) for at in corners]
    return float(max(np.hypot(*error) for error in errors))


def row(ring: str, layout: Layout, reader: ScreenReader) -> str:
    """One line of the table: all sectors of one screen."""
    results = [read(layout, sector, reader) for sector in SECTORS]
    corners = [item.corner_px for item in results if item.corner_px is not None]
    scales = [abs(item.scale_fraction) for item in results if item.scale_fraction is not None]
    cells = [
        ring,
        f"{layout.key.replace('_', ' ')}, {layout.cols} × {layout.rows}",
        f"{len(corners)} of {len(results)}",
        f"{max(corners):.1f} px" if corners else "–",
        f"{len(scales)} of {len(results)}" + (f", {100 * max(scales):.2f} %" if scales else ""),
        f"{sum(item.words_read for item in results)} of {sum(item.words for item in results)}",
        str(sum(item.names_kept for item in results)),
        f"{sum(item.r_found for item in results)} of {sum(item.r_true for item in results)}",
        str(sum(item.r_false for item in results)),
    ]
    return f"| {' | '.join(cells)} |"


def main() -> None:
    """Read every screen and write the table."""
    reader = ScreenReader(load_house())
    lines = [
        "| ring | screen | fans found | largest error of a corner | scale told without regions, largest error |"
        " words read | names taken for settings | R waves within a frame | false R waves |",
        "|---|---|---|---|---|---|---|---|---|",
        *(row("A, B", layout, reader) for layout in LAYOUTS.values()),
        *(row("C", layout, reader) for layout in SHIFTED_LAYOUTS.values()),
    ]
    write_table(
        ROOT / "docs" / "simulator.md",
        "simulated-screens",
        "\n".join(lines),
        script="measure/simulated_screens.py",
        describes=DESCRIBES,
        seeds=str(SEED),
    )


if __name__ == "__main__":
    main()
