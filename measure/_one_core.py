"""What `measure/performance.py` starts afresh for each question: one process, one thread, the answer as JSON.

python -m measure._one_core stages|decode|memory FOLDER
"""

from __future__ import annotations

import json
import os
import sys
import time
from pathlib import Path
from typing import Any

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", MKL_NUM_THREADS="1")  # as the review's worker does

import cv2
import numpy as np

from fanlight.frames.overlay import overlay_of
from fanlight.frames.text_network import TextNetwork
from fanlight.intake import Item, Limits, gather, open_frames, probe_item
from fanlight.reference.load import load_house
from fanlight.review.clip_pass import ClipPass, Known, read_clip
from fanlight.study import Box, Clip, House, Patient
from measure._drawn_clips import COLS, ROWS
from measure._syntaxes import all_syntaxes, bare_jpeg_seconds, codes_of

REPEATS = 11  # with 3, a stage moved by a third from run to run
REST = "between stages"
LIMITS = Limits()


def open_clip(path: Path) -> tuple[Item, Clip]:
    """Return the only clip of a file."""
    gathered = gather(path, path.parent / "scratch", LIMITS)
    probed = probe_item(gathered.items[0], LIMITS)
    if len(probed.clips) != 1:
        raise SystemExit(f"{path.name}: {probed.refused}")
    return gathered.items[0], probed.clips[0]


def _beat(phase: str, *, within_s: float = 0.0, done: int = 0) -> None:
    """Nobody watches."""
    del phase, within_s, done


def _pass(path: Path, house: House) -> dict[str, float]:
    """Return seconds of processor time by stage and of what lies between them, and "wall" for how long one waits."""
    item, clip = open_clip(path)
    start, wall_start = time.process_time(), time.perf_counter()
    done = read_clip(item, clip, Patient(), house, None, Known(), LIMITS, beat=_beat, clock=time.process_time)
    whole, wall = time.process_time() - start, time.perf_counter() - wall_start
    if not isinstance(done, ClipPass) or done.frames.n != clip.n_frames or done.layout.picture is None:
        raise SystemExit(f"{path.name} was not read as it should: {done}")
    seconds = dict(done.seconds)
    return {**seconds, REST: whole - sum(seconds.values()), "wall": wall}


def stages(folder: Path) -> dict[str, Any]:
    """Time the passes over the clips of the folder; the first one finds nothing loaded.

    All of a pass is the sum of its stages, each at its best: a whole pass seldom meets a quiet machine throughout.
    """
    house = load_house()
    first = _with_all(_pass(folder / "first.dcm", house))
    best: dict[str, dict[str, float]] = {}
    bare: dict[str, float] = {}
    names = ("short", "long", "flow-short", "flow-long", "clock")
    codes = {name: codes_of(folder / f"{name}.dcm") for name in names}
    for _ in range(REPEATS):
        for name in (*names, "spectrum"):
            now = _pass(folder / f"{name}.dcm", house)
            so_far = best.setdefault(name, now)
            best[name] = {stage: min(seconds, so_far[stage]) for stage, seconds in now.items()}
            if name in codes:
                bare[name] = min(bare.get(name, np.inf), bare_jpeg_seconds(codes[name], ROWS, COLS))
    whole = {name: _with_all(each) for name, each in best.items()}
    networks = _networks(folder / "long.dcm")
    return {"first": first, "best": whole, "bare": bare, "networks": networks, "repeats": REPEATS}


def _with_all(seconds: dict[str, float]) -> dict[str, float]:
    return {**seconds, "all": sum(each for name, each in seconds.items() if name != "wall")}


def _networks(path: Path) -> dict[str, float]:
    """Time the two text networks bare, on the overlay of that clip."""
    item, clip = open_clip(path)
    with open_frames(item, clip, LIMITS) as frames:
        pixels = next(frames.chunks(32)).pixels.copy()
    overlay = overlay_of(pixels)
    start = time.process_time()
    network = TextNetwork()
    load = time.process_time() - start
    find, read = np.inf, np.inf
    boxes: tuple[Box, ...] = ()
    for _ in range(REPEATS):
        start = time.process_time()
        boxes = network.find(overlay)
        middle = time.process_time()
        for box in boxes:
            network.read(overlay[box.row0 : box.row1, box.col0 : box.col1])
        read = min(read, time.process_time() - middle)
        find = min(find, middle - start)
    return {"load": load, "find": find, "read": read, "texts": len(boxes)}


def decode(folder: Path) -> list[dict[str, Any]]:
    """Time every transfer syntax, through Fanlight and bare, in turn."""
    pixels = np.load(folder / "frames.npy")
    rows = []
    for number, syntax in enumerate(all_syntaxes(len(pixels), ROWS, COLS)):
        path = syntax.write(folder / f"syntax-{number}.dcm", pixels[: syntax.n_frames])
        item, clip = open_clip(path)
        ours, bare = np.inf, np.inf
        for _ in range(REPEATS):
            start = time.process_time()
            with open_frames(item, clip, LIMITS) as frames:
                n = sum(len(chunk) for chunk in frames.chunks(32))
            ours = min(ours, time.process_time() - start)
            assert n == syntax.n_frames, f"{syntax.words}: {n} frames"
            bare = min(bare, syntax.bare_seconds(path, syntax.n_frames))
        code_bytes = path.stat().st_size
        path.unlink()
        rows.append(
            {
                "words": syntax.words,
                "bare_words": syntax.bare_words,
                "kb": code_bytes / syntax.n_frames / 1000,
                "ours_hz": syntax.n_frames / ours,
                "bare_hz": syntax.n_frames / bare,
            }
        )
    return rows


def _peak_bytes() -> int:
    """Return the high-water mark of this process's resident memory."""
    if sys.platform == "linux":
        # getrusage's ru_maxrss is inherited over fork and exec, so a large parent would show; VmHWM begins anew.
        for line in Path("/proc/self/status").read_text().splitlines():
            if line.startswith("VmHWM:"):
                return int(line.split()[1]) * 1024
    import resource

    unit = 1 if sys.platform == "darwin" else 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit


def memory(folder: Path) -> dict[str, float]:
    """Read the long clip once, in a process that has read nothing before."""
    house = load_house()
    before = _peak_bytes()
    seconds = _with_all(_pass(folder / "twenty-seconds.dcm", house))
    return {"before": before, "peak": _peak_bytes(), "seconds": seconds["all"]}


if __name__ == "__main__":
    cv2.setNumThreads(1)
    _, QUESTION, FOLDER = sys.argv
    print(json.dumps({"stages": stages, "decode": decode, "memory": memory}[QUESTION](Path(FOLDER))))
