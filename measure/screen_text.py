"""Measure how much screen text is found and read, and how long that takes; write the tables in docs/screen-text.md.

Truth: tests/real/expected.toml, read by a person, and small print drawn here. Seconds are processor time of the one
thread that is used, so that a busy machine does not count.
"""

from __future__ import annotations

import importlib.util
import re
import statistics
import tempfile
import time
import tomllib
from pathlib import Path
from typing import Any
from unittest import mock

import cv2
import numpy as np
from numpy.typing import NDArray

from fanlight.frames import letter_rows, screen_text, text_network
from fanlight.frames.screen_text import ScreenReader, overlay_of
from fanlight.intake.frames_of import open_frames
from fanlight.intake.gather import gather
from fanlight.intake.limits import Limits
from fanlight.intake.open_item import probe_item
from fanlight.reference.load import load_house
from fanlight.study import Box, ScreenText, Strip
from scripts.measured import write_table

ROOT = Path(__file__).resolve().parent.parent
AREAS_PX = (300_000, 500_000, 650_000, 1_000_000, 1_300_000)
LETTER_HEIGHTS_PX = (6, 7, 8, 10, 12, 16, 24)
SEED = 71
WORDS = ("PRF 3.5 kHz", "Depth 15 cm", "Muffin Quillfeather", "73519046")
SCREENS = ((600, 800), (768, 1024))
DESCRIBES = [
    "src/fanlight/frames/letter_rows.py",
    "src/fanlight/frames/overlay.py",
    "src/fanlight/frames/quantities.py",
    "src/fanlight/frames/screen_text.py",
    "src/fanlight/frames/screen_words.py",
    "src/fanlight/frames/text_network.py",
    "src/fanlight/reference/tables/screen_words.toml",
    "tests/real/expected.toml",
]
Overlay = NDArray[np.uint8]


def real_overlays() -> dict[str, tuple[dict[str, Any], Overlay]]:
    """Return the overlay of each real file with text, and what a person wrote down about it."""
    expected = tomllib.loads((ROOT / "tests" / "real" / "expected.toml").read_text("utf-8"))
    overlays = {}
    for name, entry in expected.items():
        if not (entry.get("text") and entry["accepted"]):
            continue
        spec = importlib.util.find_spec(entry["package"])
        assert spec is not None
        assert spec.origin is not None
        with tempfile.TemporaryDirectory() as scratch:
            (item,) = gather(Path(spec.origin).parent / entry["path"], Path(scratch), Limits()).items
            (clip,) = probe_item(item, Limits()).clips
            with open_frames(item, clip, Limits()) as frames:
                overlays[name] = (entry, overlay_of(np.array(next(iter(frames.chunks(32))).pixels)))
    return overlays


def plain(words: str) -> str:
    """Letters as a reader compares them."""
    return re.sub(r"\s", "", words).upper().replace("O", "0")


def overlay_shape(entry: dict[str, Any]) -> tuple[int, int]:
    """Rows and columns of a file."""
    return int(entry["rows"]), int(entry["cols"])


def count(entry: dict[str, Any], texts: tuple[ScreenText, ...]) -> tuple[int, int, int, int, int]:
    """Return clear texts, found, read; places with identity, and those that no technical text would keep."""
    clear = found = read = identity = safe = 0
    for truth in entry["text"]:
        row0, col0, row1, col1 = truth["box"]
        box = Box(row0=row0, col0=col0, row1=row1 + 1, col1=col1 + 1)
        near = [item for item in texts if item.box.overlap_px(box) > 0]
        if truth["identity"]:
            identity += 1
            on_line = [item for item in near if item.box.overlap_px(box) > 0.5 * min(item.box.area_px, box.area_px)]
            safe += bool(on_line) and not any(item.is_technical for item in on_line)
        elif truth["clear"] and truth["kind"] not in ("logo", "orientation_marker", "marker"):
            clear += 1
            covered = np.zeros(overlay_shape(entry), bool)
            for item in near:
                covered[item.box.row0 : item.box.row1, item.box.col0 : item.box.col1] = True
            found += float(covered[row0 : row1 + 1, col0 : col1 + 1].mean()) >= 0.8
            line = [i for i in near if i.box.row0 <= (row0 + row1) / 2 < i.box.row1]
            read += plain(truth["text"]) in plain("".join(i.text for i in sorted(line, key=lambda i: i.box.col0)))
    return clear, found, read, identity, safe


def measure_areas() -> str:
    """Detection at several sizes: what is found and read, and processor seconds an overlay."""
    overlays = real_overlays()
    rows = [
        "| detection works on | clear texts found | read as a person does | identity taken for technical "
        "| s an overlay, median | slowest | the same overlay again |",
        "|---|---|---|---|---|---|---|",
    ]
    usual = text_network._DETECTION_AREA_PX
    for area in AREAS_PX:
        reader = ScreenReader(load_house())  # a new one remembers nothing
        totals, first_s, again_s = np.zeros(5, int), [], []
        with mock.patch.object(text_network, "_DETECTION_AREA_PX", area):
            for entry, overlay in overlays.values():
                start = time.process_time()
                texts = reader.read(overlay, None)
                first_s.append(time.process_time() - start)
                start = time.process_time()
                reader.read(overlay, None)
                again_s.append(time.process_time() - start)
                totals += count(entry, texts)
        clear, found, read, identity, safe = totals
        rows.append(
            f"| {area / 1e6:.2f} Mpx{' (used)' if area == usual else ''} | {found} of {clear} | {read} of {clear} | "
            f"{identity - safe} of {identity} | {statistics.median(first_s):.2f} | {max(first_s):.2f} | "
            f"{statistics.median(again_s):.2f} |"
        )
    return "\n".join(rows)


def picture_on(rows: int, cols: int) -> Strip:
    """Where the speckle lies."""
    return Strip(box=Box(row0=rows // 5, col0=cols // 4, row1=rows - 40, col1=cols - cols // 5))


def small_print(rows: int, cols: int, height_px: int, words: str, rng: np.random.Generator) -> Overlay:
    """A screen with speckle below and one line of print of this height above it."""
    screen = np.zeros((rows, cols, 3), np.uint8)
    box = picture_on(rows, cols).box
    speckle = rng.integers(0, 160, (box.height_px, box.width_px), dtype=np.uint8)
    screen[box.row0 : box.row1, box.col0 : box.col1] = cv2.blur(speckle, (5, 3))[..., None]
    size = height_px / 21.0  # this font's capitals are 21 px high at size 1
    cv2.putText(screen, words, (20, 60), cv2.FONT_HERSHEY_SIMPLEX, size, (230, 230, 230), 1, cv2.LINE_AA)
    return screen


def no_rows(_grey: Overlay) -> tuple[Box, ...]:
    """Stand in for the net of letter rows, which then finds nothing."""
    return ()


def measure_small_print() -> str:
    """Lines found and read by the network alone, and with the net of letter rows under it."""
    table = ["| capitals | found, network alone | read | found, with letter rows | read |", "|---|---|---|---|---|"]
    reader = ScreenReader(load_house())
    lines = len(SCREENS) * len(WORDS)
    for height_px in LETTER_HEIGHTS_PX:
        cells = []
        for find in (no_rows, letter_rows.find_letter_rows):
            rng = np.random.default_rng(SEED)
            found = read = 0
            with mock.patch.object(screen_text, "find_letter_rows", find):
                for rows_px, cols_px in SCREENS:
                    for words in WORDS:
                        screen = small_print(rows_px, cols_px, height_px, words, rng)
                        texts = [
                            item for item in reader.read(screen, picture_on(rows_px, cols_px)) if item.box.row1 < 90
                        ]
                        found += bool(texts)
                        read += any(plain(words) in plain(item.text) for item in texts)
            cells += [f"{found} of {lines}", f"{read} of {lines}"]
        table.append(f"| {height_px} px | {' | '.join(cells)} |")
    return "\n".join(table)


def main() -> None:
    """Measure both tables."""
    page = ROOT / "docs" / "screen-text.md"
    write_table(page, "screen-text-areas", measure_areas(), script="measure/screen_text.py", describes=DESCRIBES)
    write_table(
        page,
        "screen-text-small",
        measure_small_print(),
        script="measure/screen_text.py",
        describes=DESCRIBES,
        seeds=str(SEED),
    )


if __name__ == "__main__":
    main()
