"""Measure how fast clips are read and how much memory that takes; write the tables of docs/performance.md.

All clips are drawn here from seeds. Takes about five minutes on two quiet cores.
"""

from __future__ import annotations

import ctypes
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from pydicom import uid

from measure._drawn_clips import RATE_HZ, Look, draw_clip
from measure._spectrum_still import write_spectrum
from scripts.measured import write_table
from tests.intake.dicom_files import fragmented, jpeg_codes

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "performance.md"
SCRIPT = "measure/performance.py"

SHORT, LONG = 32, 128  # frames; two lengths tell what a frame costs and what a clip costs
TARGET_FRAME_MS, TARGET_CLIP_MS = 6.0, 1500.0
TARGET_PEAK_GB = 1.5
TARGET_CHECK_S = 60.0
STUDY_CLIPS, STUDY_FRAMES = 40, 60
_PR_SET_CHILD_SUBREAPER = 36  # <linux/prctl.h>
_QUALITY = 90  # as stored by machines: about 100 kB a frame


def write_clip(
    path: Path, seed: int, n_frames: int, look: Look | None = None, *, times: int = 1, rate_hz: float = RATE_HZ
) -> None:
    """Draw a clip and store it as JPEG baseline 4:2:2; `times` > 1 repeats its frames."""
    pixels = draw_clip(np.random.default_rng(seed), n_frames, look or Look())
    codes = jpeg_codes(pixels, quality=_QUALITY) * times
    header = np.broadcast_to(pixels[:1], (len(codes), *pixels.shape[1:]))
    fragmented(
        path, header, codes, uid.JPEGBaseline8Bit, PhotometricInterpretation="YBR_FULL_422",
        FrameTime=1000.0 / rate_hz, SOPInstanceUID=uid.generate_uid(entropy_srcs=["fanlight", str(seed)]),
    )  # fmt: skip


def ask(question: str, folder: Path) -> Any:
    """Start a process on one core, put one question to it, and return its answer."""
    command = [sys.executable, "-m", "measure._one_core", question, str(folder)]
    return json.loads(subprocess.run(command, cwd=ROOT, check=True, stdout=subprocess.PIPE, text=True).stdout)


def load_note(before: tuple[float, float, float]) -> str:
    """Say how busy the machine was."""
    after = os.getloadavg()
    note = f"Load average of the last minute: {before[0]:.1f} before, {after[0]:.1f} after, on {os.cpu_count()} cores"
    if before[0] <= 1.5:  # the drawing of the clips alone makes 1
        return f"{note}."
    return f"{note}: others were at work. One waited longer than on a quiet machine; processor times suffer less."


def verdict(value: float, target: float) -> str:
    """Compare with a target."""
    return "met" if value <= target else "missed"


def per_frame_and_clip(short: dict[str, float], long: dict[str, float], stage: str) -> tuple[float, float]:
    """Return milliseconds a frame and a clip of a stage, from clips of two lengths."""
    few, many = short.get(stage, 0.0), long.get(stage, 0.0)
    if many <= few:  # its cost does not depend on the number of frames; the rest is noise
        return 0.0, 1000 * (few + many) / 2
    slope = (many - few) / (LONG - SHORT)
    return 1000 * slope, 1000 * (few - SHORT * slope)


def measure_stages(folder: Path) -> None:
    """Write the table of stages."""
    load = os.getloadavg()
    write_clip(folder / "first.dcm", 11, LONG)
    # Short and long begin with the same frames: what is found in the first ones alone is no cost of a frame.
    write_clip(folder / "short.dcm", 12, SHORT)
    write_clip(folder / "long.dcm", 12, LONG)
    write_clip(folder / "flow-short.dcm", 13, SHORT, Look(has_flow=True))
    write_clip(folder / "flow-long.dcm", 13, LONG, Look(has_flow=True))
    write_clip(folder / "clock.dcm", 14, LONG, Look(clock="09:43:07"))
    write_spectrum(folder / "spectrum.dcm", 15)
    told = ask("stages", folder)
    first, best, bare, networks = told["first"], told["best"], told["bare"], told["networks"]
    names = sorted((set(first) | set(best["flow-long"]) | set(best["spectrum"])) - {"all", "wall"})
    lines = [
        "| stage | a frame, ms | a clip, ms | colour: a frame, ms | a clip, ms | spectrum and picture, ms | "
        "first clip, ms |",
        "|---|---|---|---|---|---|---|",
    ]
    for name in [*names, "all", "wall"]:
        grey = per_frame_and_clip(best["short"], best["long"], name)
        flow = per_frame_and_clip(best["flow-short"], best["flow-long"], name)
        cold = 1000 * first.get(name, 0.0) - LONG * grey[0]
        words = {"all": "**all**", "wall": "all, by the clock on the wall"}.get(name, name)
        lines.append(
            f"| {words} | {grey[0]:.2f} | {grey[1]:.0f} | {flow[0]:.2f} | {flow[1]:.0f} | "
            f"{1000 * best['spectrum'].get(name, 0.0):.0f} | {max(cold, 0):.0f} |"
        )
    frame_ms, clip_ms = per_frame_and_clip(best["short"], best["long"], "all")
    flow_ms, flow_clip_ms = per_frame_and_clip(best["flow-short"], best["flow-long"], "all")
    lines.append(
        f"| target | {TARGET_FRAME_MS:.0f} | {TARGET_CLIP_MS:.0f} | {TARGET_FRAME_MS:.0f} | {TARGET_CLIP_MS:.0f} | | |"
    )
    lines.append(
        f"| | {verdict(frame_ms, TARGET_FRAME_MS)} | {verdict(clip_ms, TARGET_CLIP_MS)} | "
        f"{verdict(flow_ms, TARGET_FRAME_MS)} | {verdict(flow_clip_ms, TARGET_CLIP_MS)} | | |"
    )
    allowed = (LONG * TARGET_FRAME_MS + TARGET_CLIP_MS) / 1000
    lines += [
        "",
        f"Bare decode of the same clips in the same run: {1000 * bare['long'] / LONG:.2f} ms a frame "
        f"(colour {1000 * bare['flow-long'] / LONG:.2f}); the whole review of a clip of {LONG} frames takes "
        f"{best['long']['all']:.2f} s, {best['long']['all'] / bare['long']:.1f} times as long (colour "
        f"{best['flow-long']['all']:.2f} s, {best['flow-long']['all'] / bare['flow-long']:.1f} times); "
        f"allowed are {allowed:.2f} s.",
        "",
        f"Bare text networks on the same screen: {1000 * networks['load']:.0f} ms to load, "
        f"{1000 * networks['find']:.0f} ms to find {networks['texts']:.0f} texts, {1000 * networks['read']:.0f} ms to "
        f"read them. Screen text of a clip on whose screen only the clock moved on: "
        f"{1000 * best['clock'].get('screen text', 0):.0f} ms.",
        "",
        f"{load_note(load)} One process, one thread, processor time; each stage the best of {told['repeats']}, all of "
        "them their sum. "
        "Spectrum and picture: a still of inflow that the simulated machine drew, its picture beside it.",
    ]
    write_table(
        PAGE, "stages", "\n".join(lines), script=SCRIPT, seeds="11 to 15",
        describes=["src/fanlight/review/clip_pass.py", "src/fanlight/frames", "src/fanlight/critique",
                   "src/fanlight/recognise", "src/fanlight/intake/jpeg_frames.py", "src/fanlight/intake/chunked.py"],
    )  # fmt: skip


def measure_decoding(folder: Path) -> None:
    """Write the table of transfer syntaxes."""
    load = os.getloadavg()
    np.save(folder / "frames.npy", draw_clip(np.random.default_rng(21), 32, Look(has_flow=True)))
    rows = ask("decode", folder)
    lines = [
        "| transfer syntax | kB a frame | Fanlight, frames/s | bare decoder | frames/s | share of bare |",
        "|---|---|---|---|---|---|",
    ]
    for row in rows:
        lines.append(
            f"| {row['words']} | {row['kb']:.0f} | {row['ours_hz']:.0f} | {row['bare_words']} | {row['bare_hz']:.0f} | "
            f"{row['ours_hz'] / row['bare_hz']:.2f} |"
        )
    if not any("JPEG lossless" in row["words"] for row in rows):
        lines.append("| JPEG lossless | | not measured: the extra `jpeg-lossless` is not installed | | | |")
    lines += ["", f"{load_note(load)} Frames per second of processor time, one thread, best of 7; 1024 × 768, RGB."]
    write_table(
        PAGE, "decoding", "\n".join(lines), script=SCRIPT, seeds="21",
        describes=[f"src/fanlight/intake/{name}.py" for name in (
            "chunked", "colour", "decoders", "fragments", "frames_of", "jpeg_frames", "native_frames",
            "plugin_frames", "video_frames")],
    )  # fmt: skip


def measure_memory(folder: Path) -> None:
    """Write the table of peak memory."""
    load = os.getloadavg()
    # 160 frames are ten whole beats: repeated, they go on without a jump. What a frame shows costs no memory.
    write_clip(folder / "twenty-seconds.dcm", 31, 160, times=13, rate_hz=100.0)
    told = ask("memory", folder)
    (folder / "twenty-seconds.dcm").unlink()
    peak_gb = told["peak"] / 1e9
    lines = [
        "| clip | before, GB | peak, GB | target, GB | | read in, s |",
        "|---|---|---|---|---|---|",
        f"| 2080 frames of 1024 × 768, 20.8 s at 100 frames/s | {told['before'] / 1e9:.2f} | {peak_gb:.2f} | "
        f"{TARGET_PEAK_GB} | {verdict(peak_gb, TARGET_PEAK_GB)} | {told['seconds']:.1f} |",
        "",
        f"High-water mark of resident memory of a fresh process that reads the clip, screen text included; seconds of "
        f"processor time. {load_note(load)}",
    ]
    write_table(
        PAGE, "memory", "\n".join(lines), script=SCRIPT, seeds="31",
        describes=["src/fanlight/review/clip_pass.py", "src/fanlight/intake/chunked.py", "src/fanlight/frames",
                   "src/fanlight/critique", "src/fanlight/recognise"],
    )  # fmt: skip


@contextmanager
def _all_that_it_starts() -> Iterator[None]:
    """Let this process wait for whatever its children leave behind, so that its processor time is counted too.

    A server that processes branch off ends after the command that started it. prctl(2): a "subreaper" becomes the
    parent of such processes. Only Linux has it, and only there is a server (`fanlight.review.processes`).
    """
    if not sys.platform.startswith("linux"):
        yield
        return
    libc = ctypes.CDLL(None)
    libc.prctl(_PR_SET_CHILD_SUBREAPER, 1, 0, 0, 0)
    try:
        yield
        with suppress(ChildProcessError):
            while True:
                os.waitpid(-1, 0)
    finally:
        libc.prctl(_PR_SET_CHILD_SUBREAPER, 0, 0, 0, 0)


def run_fanlight(command: str, study: Path, cache: Path, *options: str) -> tuple[float, float]:
    """Run a command of Fanlight as a practice does; return seconds waited and seconds of processor time."""
    program = [sys.executable, "-c", "from fanlight.cli import main; main()", command, str(study), "--quiet", *options]
    # An installed program lies compiled on the disk; some test machines forbid that, so it is allowed anew, elsewhere.
    environment = {**os.environ, "FANLIGHT_CACHE": str(cache), "PYTHONPYCACHEPREFIX": str(study.parent / "compiled")}
    environment.pop("PYTHONDONTWRITEBYTECODE", None)
    start, before = time.perf_counter(), os.times()
    with _all_that_it_starts():
        subprocess.run(program, cwd=ROOT, env=environment, check=True, stdout=subprocess.DEVNULL)
        waited = time.perf_counter() - start
    after = os.times()
    busy = after.children_user + after.children_system - before.children_user - before.children_system
    return waited, busy


def write_study(folder: Path) -> Path:
    """Write a study: four depths, a clock that moves on, every fourth clip in colour."""
    study = folder / "study"
    study.mkdir()
    for number in range(STUDY_CLIPS):
        look = Look(
            depth_cm=(10, 12, 14, 16)[number // 10], clock=f"09:{41 + number // 3}:{number * 17 % 60:02d}",
            has_flow=number % 4 == 3,
        )  # fmt: skip
        write_clip(study / f"clip-{number + 1:02d}.dcm", 100 + number, STUDY_FRAMES, look)
    return study


def measure_check(folder: Path) -> None:
    """Write the table of `fanlight check` on a whole study."""
    study = write_study(folder)
    load = os.getloadavg()
    runs = [(run_fanlight("check", study, folder / name), run_fanlight("check", study, folder / name)) for name in "ab"]
    cold, warm = (min(attempts) for attempts in zip(*runs, strict=True))
    letter = run_fanlight("review", study, folder / "a", "--out", str(folder / "out"))
    rows = (
        ("`fanlight check`, nothing cached", cold, f"{TARGET_CHECK_S:.0f}", verdict(cold[0], TARGET_CHECK_S)),
        ("`fanlight check`, all clips read before", warm, "", ""),
        ("`fanlight review`, all clips read before: letter, summary and study sheet", letter, "", ""),
    )
    lines = [
        f"| {STUDY_CLIPS} clips of {STUDY_FRAMES} frames | waited, s | target, s | | processor time, s |",
        "|---|---|---|---|---|",
        *(f"| {words} | {took[0]:.1f} | {target} | {word} | {took[1]:.1f} |" for words, took, target, word in rows),
        "",
        f"Start of the program included; a clip a core at a time; best of 2. {load_note(load)}",
    ]
    write_table(
        PAGE, "check", "\n".join(lines), script=SCRIPT, seeds=f"100 to {99 + STUDY_CLIPS}",
        describes=[f"src/fanlight/review/{name}.py" for name in (
            "cache", "clip_jobs", "clip_pass", "run", "stages", "worker",
        )],
    )  # fmt: skip


MEASURES = {"stages": measure_stages, "decoding": measure_decoding, "memory": measure_memory, "check": measure_check}


def main(names: Sequence[str]) -> None:
    """Measure all tables, or those named."""
    cv2.setNumThreads(1)
    for name in names or MEASURES:
        start = time.perf_counter()
        with tempfile.TemporaryDirectory(prefix="fanlight-measure-") as folder:
            MEASURES[name](Path(folder))
        print(f"  {name}: {time.perf_counter() - start:.0f} s", file=sys.stderr, flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
