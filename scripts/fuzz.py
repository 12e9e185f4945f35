"""Feed mutated DICOM, video, picture and zip files to intake and to the whole review.

Each round lays mutated files beside one good file, as a practice's folder, and reads every file in the worker that the
review uses. It fails when

* anything but a refusal or a damaged frame comes back for a file (an error that intake did not foresee),
* no sign of life comes from the worker for five seconds, twice (it is stopped then, and the file counts as hanging;
  once alone may be a machine that has no time for it: the file is read again by a fresh worker, and counted),
* the worker process dies (it is replaced; the file counts as a crash), or
* the good file is not read level for level.

Then the same folder goes through `review_study` and its documents are written, as a mentor would do it. It fails when

* the review or the writing ends with an error,
* a file brings one of the faults above while it is judged,
* a file is neither read nor refused by name, or
* layout, mode, times or number of frames of the good file differ from what they are without the others.

Run by hand: ``scripts/fuzz --count 10000`` reviews all rounds. CI reads 300 files and reviews 40 of them.
"""

from __future__ import annotations

import argparse
import hashlib
import io
import shutil
import struct
import sys
import tempfile
import time
import traceback
import zipfile
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from unittest.mock import patch

ROOT = Path(__file__).resolve().parents[1]
for folder in (ROOT, ROOT / "src"):
    if str(folder) not in sys.path:
        sys.path.insert(0, str(folder))

import numpy as np  # noqa: E402 - the folders above come first
from PIL import Image  # noqa: E402
from pydicom import uid  # noqa: E402

from fanlight.intake import Gathered, Item, Limits, gather, open_frames, probe_item  # noqa: E402
from fanlight.reference.load import load_house  # noqa: E402
from fanlight.report.write import write_review  # noqa: E402
from fanlight.review.cache import NoCache  # noqa: E402
from fanlight.review.events import FileProbed, FileRefused, ReviewFinished  # noqa: E402
from fanlight.review.opening import OpenStudy, ReviewOptions  # noqa: E402
from fanlight.review.pictures import Pictures  # noqa: E402
from fanlight.review.run import review_study  # noqa: E402
from fanlight.review.worker import (  # noqa: E402
    STALL_S,
    Beat,
    TaskDiedError,
    TaskError,
    TaskFailedError,
    TaskStalledError,
    Worker,
)
from fanlight.study import ClipReading, FrameDamageError, House  # noqa: E402
from tests.intake import dicom_files as make  # noqa: E402

FILES_A_ROUND = 20
GOOD = "good.dcm"
# Small limits: a mutated header may honestly ask for seconds of decoding, which is not what is looked for here.
LIMITS = Limits(
    picture_px=2_000_000,
    frames=2_000,
    decoded_bytes=400_000_000,
    file_bytes=64 * 1024**2,
    zip_total_bytes=128 * 1024**2,
)
_HERE = "fuzz" if __name__ in ("__main__", "__mp_main__") else __name__


def gather_folder(folder: Path, scratch: Path, *, beat: Beat) -> Gathered:
    """List the files of a round; worker task."""
    beat("listing files")
    return gather(folder, scratch, LIMITS, lambda found: beat("listing files", done=found))


def read_whole(item: Item, *, beat: Beat) -> tuple[str, str]:
    """Read one file to its end; worker task. Returns how it ended, and a hash of the pixels or the words."""
    beat("reading the header")
    probed = probe_item(item, LIMITS, lambda n: beat("reading the header", done=n))
    if probed.refused:
        return "refused", str(probed.refused[0])
    if not probed.clips:
        return "report", str(len(probed.measurements))
    digest = hashlib.sha256()
    with open_frames(item, probed.clips[0], LIMITS, lambda n: beat("decoding", done=n)) as frames:
        try:
            for chunk in frames.chunks(8):
                digest.update(chunk.pixels.tobytes())
        except FrameDamageError as error:
            return "damaged", str(error)
    return "read", digest.hexdigest()


def _picture(pixels: np.ndarray, kind: str) -> bytes:
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, kind)
    return out.getvalue()


def _animated_gif(pixels: np.ndarray) -> bytes:
    out = io.BytesIO()
    pictures = [Image.fromarray(frame).quantize(32) for frame in pixels]
    pictures[0].save(out, "GIF", save_all=True, append_images=pictures[1:], duration=40)
    return out.getvalue()


def seed_files(folder: Path, rng: np.random.Generator) -> dict[str, bytes]:
    """One small valid file of every kind that intake reads."""
    grey, colour = make.speckle(rng, 4, 48, 64), make.tinted(rng, 4, 48, 64)
    deep = rng.integers(0, 4096, (2, 48, 64)).astype(np.uint16)
    path = folder / "seed.dcm"
    entries = rng.integers(0, 256, (3, 256)).astype(np.uint8)
    palette: dict[str, object] = {"PhotometricInterpretation": "PALETTE COLOR"}
    for name, table in zip(("Red", "Green", "Blue"), entries, strict=True):
        palette[f"{name}PaletteColorLookupTableDescriptor"] = [256, 0, 8]
        palette[f"{name}PaletteColorLookupTableData"] = table.tobytes()
    h264 = make.video_bytes(colour, "libx264", "h264")
    writers: dict[str, Callable[[], Path]] = {
        "native_grey.dcm": lambda: make.native(path, grey, FrameTime=40, PatientName="Invented^Pepper"),
        "native_colour.dcm": lambda: make.native(path, colour, uid.ImplicitVRLittleEndian, PlanarConfiguration=1),
        "native_deep.dcm": lambda: make.native(path, deep, BitsStored=12, WindowCenter=2000, WindowWidth=3000),
        "big_endian.dcm": lambda: make.native(path, grey, uid.ExplicitVRBigEndian),
        "deflated.dcm": lambda: make.deflated(path, grey),
        "palette.dcm": lambda: make.native(path, grey, **palette),  # type: ignore[arg-type]
        "jpeg_grey.dcm": lambda: make.jpeg_baseline(path, grey),
        "jpeg_colour.dcm": lambda: make.jpeg_baseline(path, colour, FrameTimeVector=[0, 40, 41, 39]),
        "rle.dcm": lambda: make.encoded(path, colour, uid.RLELossless),
        "jpeg_ls.dcm": lambda: make.encoded(path, colour, uid.JPEGLSLossless),
        "jpeg_2000.dcm": lambda: make.encoded(path, grey, uid.JPEG2000Lossless),
        "h264.dcm": lambda: make.video_in_dicom(path, colour, h264, uid.MPEG4HP41),
    }
    seeds = {name: write().read_bytes() for name, write in writers.items()}
    seeds |= {
        "report.dcm": make.pydicom_file("test-SR.dcm").read_bytes(),
        "a.mp4": make.video_bytes(colour, "libx264", "mp4"),
        "a.avi": make.video_bytes(colour, "mjpeg", "avi", pix_fmt="yuvj420p"),
        "a.webm": make.video_bytes(colour, "libvpx-vp9", "webm"),
        "a.mpg": make.video_bytes(colour, "mpeg2video", "mpeg"),
        "a.gif": _animated_gif(colour),
        **{f"a.{kind.lower()}": _picture(colour[0], kind) for kind in ("PNG", "JPEG", "BMP", "TIFF", "WEBP")},
        "request.toml": b'[animal]\nspecies = "dog"\nweight_kg = 9.5\n[[file]]\nname = "good.dcm"\nview = "x"\n',
    }
    inner = io.BytesIO()
    with zipfile.ZipFile(inner, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("a.dcm", seeds["jpeg_grey.dcm"])
    outer = io.BytesIO()
    with zipfile.ZipFile(outer, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("inner.zip", inner.getvalue())
        archive.writestr("b.png", seeds["a.png"])
        archive.writestr("c.dcm", seeds["native_grey.dcm"])
    return seeds | {"a.zip": outer.getvalue()}


def _flip(data: bytearray, rng: np.random.Generator) -> None:
    for _ in range(int(rng.integers(1, 33))):
        data[int(rng.integers(len(data)))] ^= 1 << int(rng.integers(8))


def _overwrite(data: bytearray, rng: np.random.Generator) -> None:
    at, length = int(rng.integers(len(data))), int(rng.integers(1, 65))
    data[at : at + length] = rng.integers(0, 256, length).astype(np.uint8).tobytes()


def _cut(data: bytearray, rng: np.random.Generator) -> None:
    del data[int(rng.integers(1, len(data))) :]


def _edit_length(data: bytearray, rng: np.random.Generator) -> None:
    """Write an extreme number where a length, a size or a count is likely to stand: in the first part of the file."""
    extremes = (0, 1, 0xFFFF, 0x7FFF, 0x8000, 0xFFFFFFFF, 0x7FFFFFFF, 0xFFFFFFFE, 0x10000)
    for _ in range(int(rng.integers(1, 4))):
        at = int(rng.integers(min(len(data), 1200)))
        value = extremes[int(rng.integers(len(extremes)))]
        code = ("<H", ">H", "<L", ">L")[int(rng.integers(4))]
        packed = struct.pack(code, value & (0xFFFF if code[1] == "H" else 0xFFFFFFFF))
        data[at : at + len(packed)] = packed


def _repeat(data: bytearray, rng: np.random.Generator) -> None:
    at = int(rng.integers(len(data)))
    part = data[at : at + int(rng.integers(1, 2000))]
    data[at:at] = part * int(rng.integers(1, 5))


def _drop(data: bytearray, rng: np.random.Generator) -> None:
    at = int(rng.integers(len(data)))
    del data[at : at + int(rng.integers(1, 200))]


_MUTATIONS = (_flip, _overwrite, _cut, _edit_length, _repeat, _drop)


def mutated(seeds: dict[str, bytes], rng: np.random.Generator) -> tuple[str, bytes]:
    """One mutated file: one to three mutations, sometimes the head of one file on the body of another."""
    names = sorted(seeds)
    name = names[int(rng.integers(len(names)))]
    data = bytearray(seeds[name])
    if rng.random() < 0.15:
        other = seeds[names[int(rng.integers(len(names)))]]
        data[int(rng.integers(len(data))) :] = other[int(rng.integers(len(other))) :]
    for _ in range(int(rng.integers(1, 4))):
        if len(data) > 1:
            _MUTATIONS[int(rng.integers(len(_MUTATIONS)))](data, rng)
    return name, bytes(data)


@dataclass
class Outcome:
    """Counts of how files ended, and what must not have happened."""

    files: int = 0
    reviewed: int = 0  # of these, through the whole review
    ends: Counter[str] = field(default_factory=Counter)
    failures: list[str] = field(default_factory=list)
    slowest_s: float = 0.0
    slowest: str = ""

    def words(self) -> str:
        """One line for people."""
        ends = ", ".join(f"{count} {end}" for end, count in sorted(self.ends.items()))
        slowest = f"slowest {self.slowest_s:.2f} s ({self.slowest})"
        counts = f"{self.files} mutated files, {self.reviewed} of them through the whole review"
        return f"{counts}: {ends}; {slowest}; {len(self.failures)} failures"

    def note_time(self, label: str, seconds: float) -> None:
        """Remember the slowest file."""
        if seconds > self.slowest_s:
            self.slowest_s, self.slowest = seconds, label


def _task(worker: Worker, outcome: Outcome, label: str, name: str, *arguments: object) -> object | None:
    """Run a task; note what must not happen."""
    start = time.monotonic()
    try:
        try:
            answer: object = worker.call(f"{_HERE}:{name}", *arguments)
        except TaskStalledError:
            outcome.ends["stopped and read again"] += 1
            start = time.monotonic()
            answer = worker.call(f"{_HERE}:{name}", *arguments)
        return answer
    except TaskStalledError as error:
        outcome.ends["hanging"] += 1
        outcome.failures.append(f"{label}: hangs: {error}")
    except TaskDiedError as error:
        outcome.ends["crashed"] += 1
        outcome.failures.append(f"{label}: {error}")
    except TaskError as error:
        outcome.ends["unforeseen error"] += 1
        outcome.failures.append(f"{label}: {error}\n{getattr(error, 'trace', '')}")
    finally:
        outcome.note_time(label, time.monotonic() - start)
    return None


class _WatchedWorker(Worker):
    """The review's own worker, kept over the rounds; notes what must not happen in it."""

    def __init__(self, outcome: Outcome) -> None:
        super().__init__()
        self.outcome = outcome
        self.round = ""

    def call(self, target: str, *arguments: Any, on_pulse: Any = None) -> Any:
        """Run a task as the review asked for it, twice where it stalls."""
        names = [item.name for item in arguments if isinstance(item, Item)]
        label = f"{self.round}/{names[0] if names else target}, reviewed"
        start = time.monotonic()
        try:
            try:
                return super().call(target, *arguments, on_pulse=on_pulse)
            except TaskStalledError:
                self.outcome.ends["stopped and reviewed again"] += 1
                start = time.monotonic()
                return super().call(target, *arguments, on_pulse=on_pulse)
        except TaskFailedError as error:
            # The review turns these two into refusals of their own.
            if error.kind not in ("FrameDamageError", "MemoryError"):
                self.outcome.failures.append(f"{label}: {error}\n{error.trace}")
            raise
        except TaskError as error:
            self.outcome.failures.append(f"{label}: {error}")
            raise
        finally:
            self.outcome.note_time(label, time.monotonic() - start)

    def __exit__(self, *exc: object) -> None:
        """Stay for the next round; `close` ends it."""


class _Lent:
    """The same worker for the pictures of the documents, which they must not end."""

    def __init__(self, worker: Worker) -> None:
        self.call = worker.call

    def close(self) -> None:
        """Leave it running."""


@dataclass(frozen=True)
class _Reviewer:
    """What all reviews of a run share."""

    worker: _WatchedWorker
    house: House
    base: Path

    def review(self, folder: Path) -> tuple[list[object], tuple[ClipReading, ...]]:
        """Review a folder and write its documents."""
        self.worker.round = folder.name
        events: list[object] = []
        with (
            patch("fanlight.review.run.Worker", lambda *_: self.worker),
            patch("fanlight.review.pictures.Worker", lambda *_: _Lent(self.worker)),
            OpenStudy() as opened,
        ):
            events += review_study(folder, self.house, opened, ReviewOptions(limits=LIMITS), NoCache())
            last = events[-1]
            assert isinstance(last, ReviewFinished)
            with Pictures(opened, last.review) as pictures:
                write_review(last.review, self.house, pictures, self.base / "written", datetime(2026, 1, 1, tzinfo=UTC))
        return events, last.review.readings


def _good_of(readings: tuple[ClipReading, ...]) -> object:
    """What other files cannot change about the good file: they may name an animal of another size, or its view."""
    found = [item for item in readings if item.clip.name == GOOD]
    return [(item.layout, item.mode, item.time, item.frames_read, item.damage) for item in found]


def _review_round(reviewer: _Reviewer, outcome: Outcome, folder: Path, wanted: object) -> None:
    try:
        events, readings = reviewer.review(folder)
    except Exception:
        # Whatever ends a review is what is looked for here.
        outcome.failures.append(f"{folder.name}: the review ended: {traceback.format_exc()}")
        return
    last = events[-1]
    assert isinstance(last, ReviewFinished)
    study = last.review.study
    outcome.reviewed += len(list(folder.iterdir())) - 1
    outcome.ends["reviewed"] += len(readings) - 1
    if _good_of(readings) != wanted:
        outcome.failures.append(f"{folder.name}: the good file was lost in the review")
    told = {event.refusal.name for event in events if isinstance(event, FileRefused)}
    told |= {event.name for event in events if isinstance(event, FileProbed)} | {item.name for item in study.refused}
    judged = {item.clip.name for item in readings} | {item.name for item in last.review.refused}
    lost = {clip.name for clip in study.clips} - judged
    for file in folder.iterdir():
        known = any(name == file.name or name.startswith(f"{file.name}/") for name in told)
        if not known and file.suffix not in (".toml", ".zip") and not any("system" in note for note in study.notes):
            lost.add(file.name)
    outcome.failures += [f"{folder.name}/{name}: neither read nor refused by the review" for name in sorted(lost)]


def fuzz(
    n_files: int,
    seed: int,
    keep: Path | None = None,
    tell: Callable[[Outcome], None] | None = None,
    *,
    review_files: int = 0,
) -> Outcome:
    """Run rounds until `n_files` mutated files were read.

    Parameters
    ----------
    n_files : int
        Mutated files in all; `FILES_A_ROUND` share a folder with one good file.
    seed : int
        Same seed, same files.
    keep : Path, optional
        Folder that keeps the files of failed rounds.
    tell : callable, optional
        Called after each round.
    review_files : int
        How many of the files go through the whole review as well, in whole rounds.
    """
    rng = np.random.default_rng(seed)
    outcome = Outcome()
    good_pixels = make.speckle(rng, 3, 40, 56)
    wanted = hashlib.sha256(good_pixels.tobytes()).hexdigest()
    with tempfile.TemporaryDirectory(prefix="fanlight-fuzz-") as place, Worker() as worker:
        base = Path(place)
        seeds = seed_files(base, rng)
        reviewer = _Reviewer(_WatchedWorker(outcome), load_house(), base)
        good_alone: object = None
        if review_files:
            alone = base / "alone"
            alone.mkdir()
            make.native(alone / GOOD, good_pixels)
            good_alone = _good_of(reviewer.review(alone)[1])
        try:
            round_number = 0
            while outcome.files < n_files:
                round_number += 1
                folder, scratch = base / f"round{round_number}", base / f"scratch{round_number}"
                folder.mkdir()
                scratch.mkdir()
                make.native(folder / GOOD, good_pixels)
                for number in range(min(FILES_A_ROUND, n_files - outcome.files)):
                    name, data = mutated(seeds, rng)
                    (folder / f"{number:02d}_{name}").write_bytes(data)
                    outcome.files += 1
                failures = len(outcome.failures)
                _round(worker, outcome, folder, scratch, wanted)
                if outcome.reviewed < review_files:
                    _review_round(reviewer, outcome, folder, good_alone)
                if keep is not None and len(outcome.failures) > failures:
                    keep.mkdir(parents=True, exist_ok=True)
                    shutil.copytree(folder, keep / f"seed{seed}_{folder.name}", dirs_exist_ok=True)
                shutil.rmtree(folder)
                shutil.rmtree(scratch)
                if tell is not None:
                    tell(outcome)
        finally:
            reviewer.worker.close()
    return outcome


def _round(worker: Worker, outcome: Outcome, folder: Path, scratch: Path, wanted: str) -> None:
    gathered = _task(worker, outcome, folder.name, "gather_folder", folder, scratch)
    if not isinstance(gathered, Gathered):
        return
    outcome.ends["refused when listed"] += len(gathered.refused)
    good = ("", "")
    for item in gathered.items:
        answer = _task(worker, outcome, f"{folder.name}/{item.name}", "read_whole", item)
        if isinstance(answer, tuple):
            if item.name == GOOD:
                good = answer
            else:
                outcome.ends[answer[0]] += 1
    if good != ("read", wanted):
        outcome.failures.append(f"{folder.name}: the good file was lost: {good}")


def main() -> int:
    """Run from the command line; 1 when anything failed."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--count", type=int, default=300, help="mutated files in all")
    parser.add_argument("--reviews", type=int, help="how many of them go through the whole review; all by default")
    parser.add_argument("--seed", type=int, default=2)
    parser.add_argument("--keep", type=Path, help="folder that keeps the files of failed rounds")
    arguments = parser.parse_args()
    start = time.monotonic()

    def tell(outcome: Outcome) -> None:
        if outcome.files % 500 < FILES_A_ROUND:
            print(outcome.words(), flush=True)

    reviews = arguments.count if arguments.reviews is None else arguments.reviews
    outcome = fuzz(arguments.count, arguments.seed, arguments.keep, tell, review_files=reviews)
    print("\n".join(outcome.failures))
    print(f"seed {arguments.seed}, limit {STALL_S:g} s: {outcome.words()}, in {time.monotonic() - start:.0f} s")
    return 1 if outcome.failures else 0


if __name__ == "__main__":
    sys.exit(main())
