"""Measure how fast the desk answers and plays with a full store; write the tables "Desk" of docs/performance.md.

    scripts/measure desk_speed [--studies N] [--print]

Fills a store with invented studies and one with 60 drawn clips, starts `fanlight desk` on it, asks it over HTTP as a
page does, and drives it in Chromium (FANLIGHT_CHROMIUM, or the one on the path) through every clip. Takes about ten
minutes on two quiet cores. `--print` writes no table.
"""

from __future__ import annotations

import os

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1")

import argparse
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import httpx
import numpy as np

from fanlight.store import new_id, plain_action
from fanlight.study.codec import to_plain
from measure._desk_browser import REPEAT_MS, STEPS, Played, browser_page, chromium_path, play
from measure._desk_samples import desk_act
from measure._desk_store import FRAMES, N_ACTS, N_CLIPS, N_OPENED, N_PLAYED, N_RAW, Filled, fill_desk
from measure._service import Service, group, resident_mb
from scripts.measured import write_table

ROOT = Path(__file__).resolve().parent.parent
PAGE = ROOT / "docs" / "performance.md"
SCRIPT = "measure/desk_speed.py"
ANSWERS = (
    "src/fanlight/desk/as_left.py", "src/fanlight/desk/clip_view.py", "src/fanlight/desk/decided.py",
    "src/fanlight/desk/frames.py", "src/fanlight/desk/serve.py", "src/fanlight/desk/study_page.py",
    "src/fanlight/desk/waiting_page.py", "src/fanlight/store/waiting.py", "src/fanlight/store/log.py",
)  # fmt: skip
STATIC = "src/fanlight/desk/static/"
PICTURES = (
    "src/fanlight/desk/frame_tasks.py", "src/fanlight/desk/frames.py", f"{STATIC}decode.js", f"{STATIC}player.js",
    f"{STATIC}ring.js",
)  # fmt: skip
N_STUDIES, SEED = 10_000, 61
FIRST_FRAME_MS, STEP_MS, ANSWER_MS = 150.0, 16.0, 100.0
REPEATS = 200


def times_ms(ask: Callable[[int], httpx.Response], n: int) -> np.ndarray:
    """Return how long each of some requests took, ms."""
    taken = []
    for k in range(n):
        start = time.perf_counter()
        answer = ask(k)
        taken.append(1000 * (time.perf_counter() - start))
        assert answer.status_code == 200, answer.text
    return np.array(taken)


def answers(client: httpx.Client, filled: Filled) -> list[tuple[str, np.ndarray]]:
    """Ask for everything that a page asks for, again and again."""
    warm, draft = filled.opened[0], filled.drafts[0]
    after = [""]

    def leaf(_: int) -> httpx.Response:
        answer = client.get("/api/waiting", params={"after": after[0]})
        after[0] = answer.json()["after"]
        return answer

    def act(k: int) -> httpx.Response:
        action, payload = plain_action(desk_act(N_ACTS + k, draft))
        body = {"id": new_id(), "author": "M. Linden", "clip": "", "action": action, "payload": to_plain(payload)}
        return client.post(f"/api/studies/{warm}/entries", json=body)

    def packet(k: int) -> httpx.Response:
        key = filled.clips[k * 7 % N_PLAYED].key
        return client.get(f"/api/studies/{filled.played}/clips/{key}/frames", params={"first": k % FRAMES, "count": 1})

    clip = draft.readings[0].clip.key
    asked: list[tuple[str, Callable[[int], httpx.Response], int]] = [
        ("list of waiting studies", lambda _: client.get("/api/waiting"), REPEATS),
        ("list, leafing", leaf, REPEATS),
        (
            f"a study of {N_CLIPS} clips, opened first",
            lambda k: client.get(f"/api/studies/{filled.opened[k % N_OPENED]}"),
            N_OPENED * 3,
        ),
        (f"a study of {N_CLIPS} clips, opened again", lambda _: client.get(f"/api/studies/{warm}"), REPEATS),
        (f"a study of {N_PLAYED} clips, opened again", lambda _: client.get(f"/api/studies/{filled.played}"), 50),
        (f"its state after {N_ACTS} acts", lambda _: client.get(f"/api/studies/{warm}/state"), REPEATS),
        ("reading of a clip", lambda _: client.get(f"/api/studies/{warm}/clips/{clip}"), REPEATS),
        ("an act", act, REPEATS),
        ("preview of the letter", lambda _: client.get(f"/api/studies/{warm}/letter"), 50),
        ("one frame of any clip", packet, REPEATS),
    ]
    found = []
    for name, ask, n in asked:
        found.append((name, times_ms(ask, n)))
        p50, p95 = np.percentile(found[-1][1], [50, 95])
        print(f"{name}: {p50:.1f} {p95:.1f}", flush=True)
    return found


def answers_table(found: list[tuple[str, np.ndarray]], filled: Filled, n_studies: int, note: str) -> str:
    """Return the times of the service as Markdown."""
    lines = ["| answer over HTTP | p50, ms | p95, ms | target, ms | |", "|---|---|---|---|---|"]
    for name, taken in found:
        p50, p95 = np.percentile(taken, [50, 95])
        lines.append(f"| {name} | {p50:.0f} | {p95:.0f} | {ANSWER_MS:.0f} | {met(p95, ANSWER_MS)} |")
    return "\n".join(lines) + (
        f"\n\n{n_studies} studies wait, {filled.size_mb:.0f} MB with one study's files; {N_OPENED} of them have "
        f"{N_CLIPS} clips read and {N_ACTS} acts. Opened first: its draft is not in the service's memory. {note}"
    )


def pictures_table(played: Played, service_mb: float, readers_mb: float, note: str) -> str:
    """Return the times of the pages and the memory as Markdown."""
    lines = ["| in Chromium | p50, ms | p95, ms | target, ms | |", "|---|---|---|---|---|"]
    rows = [
        ("first frame of the next clip", played.first_next, FIRST_FRAME_MS),
        ("first frame of any clip, clicked", played.first_any, FIRST_FRAME_MS),
        ("a step", played.step, STEP_MS),
    ]
    for name, by_form, target in rows:
        for form, taken in sorted(by_form.items()):
            p50, p95 = np.percentile(taken, [50, 95])
            lines.append(
                f"| {name}: {form} ({len(taken)}) | {p50:.1f} | {p95:.1f} | {target:.0f} | {met(p95, target)} |"
            )
    lines.append(
        f"| study of {N_PLAYED} clips, from the address to its first picture | {np.median(played.open_ms):.0f} | | | |"
    )
    lines += [
        "", f"| memory with {N_PLAYED} clips open, every clip stepped through | MB |", "|---|---|",
        f"| service | {service_mb:.0f} |", f"| its processes that read files and frames, together | {readers_mb:.0f} |",
        f"| page: script's heap | {played.heap_mb:.0f} |", f"| browser, all processes | {played.browser_mb:.0f} |",
    ]  # fmt: skip
    return "\n".join(lines) + (
        f"\n\n{N_PLAYED - N_RAW} clips of 1024 × 768, JPEG baseline of about 110 kB a frame, and {N_RAW} of 640 × 640, "
        f"uncompressed grey; {FRAMES} frames each, {STEPS} steps a clip, {REPEAT_MS} ms apart. Times are the page's "
        f"own measures, from the key or the click to the drawn frame. Chromium without a graphics card. {note}"
    )


def met(value: float, target: float) -> str:
    """Say whether a target is met."""
    return "met" if value <= target else "missed"


def main() -> None:
    """Fill, measure, write."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--studies", type=int, default=N_STUDIES)
    parser.add_argument("--print", action="store_true", dest="only_print")
    given = parser.parse_args()
    chromium_path()
    with tempfile.TemporaryDirectory() as scratch:
        start = time.perf_counter()
        filled = fill_desk(Path(scratch) / "store", given.studies)
        print(f"filled in {time.perf_counter() - start:.0f} s, {filled.size_mb:.0f} MB", flush=True)
        before = os.getloadavg()[0]
        service = Service(Path(scratch) / "store")
        try:
            with closing(service.enter()) as client:
                client.get("/api/waiting").raise_for_status()
                found = answers(client, filled)
            service.kill_all()
            service = Service(Path(scratch) / "store")
            with browser_page(service) as page:
                played = play(page, filled.played, N_PLAYED, SEED)
                service_mb = resident_mb(service.process.pid)
                readers_mb = sum(map(resident_mb, group(service.process.pid))) - service_mb
        finally:
            service.kill_all()
    load = f"{before:.1f} before, {os.getloadavg()[0]:.1f} after, on {os.cpu_count()} cores"
    note = f"Load average of the last minute: {load}."
    tables = (
        ("desk-answers", answers_table(found, filled, given.studies, note), ANSWERS),
        ("desk-pictures", pictures_table(played, service_mb, readers_mb, note), PICTURES),
    )
    for name, table, describes in tables:
        print(table, flush=True)
        if not given.only_print:
            write_table(PAGE, name, table, script=SCRIPT, describes=describes, seeds=f"51, {SEED}")


if __name__ == "__main__":
    main()
