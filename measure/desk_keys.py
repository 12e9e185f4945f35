"""Count the keys that the demo's study takes from the list to both signatures; write the table in docs/desk.md.

    scripts/measure desk_keys [--demo FOLDER]

Simulates the study of `scripts/demo`, has it read, and works on it in Chromium (FANLIGHT_CHROMIUM, or the one on the
path) by keyboard alone: every key goes through `tests/desk_browser/by_keyboard.py`, which counts it. The views are
those that the simulator knows. `--demo` takes a study that `scripts/demo` has left there.
"""

from __future__ import annotations

import argparse
import json
import re
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from fanlight.desk import Desk, DeskOptions, take_in_place
from fanlight.reference.load import load_house
from fanlight.review.settings import cache_folder
from fanlight.store import open_store
from measure._desk_browser import browser_page
from measure._service import Service
from scripts.demo import SEED, SETTING
from scripts.measured import write_table
from tests.desk_browser.by_keyboard import ClipKeys, Keyboard, decide_clips, say_something, sign_papers
from tests.desk_browser.conftest import all_sent, at_rest

ROOT = Path(__file__).resolve().parent.parent
SCRIPT = "measure/desk_keys.py"
STATIC = "src/fanlight/desk/static/"
# Which keys there are and what they do in the study; tests/desk_browser holds the bounds after every other change.
DESCRIBES = ("tests/desk_browser/by_keyboard.py", f"{STATIC}keys.js", f"{STATIC}study_keys.js")
NAME, LOOK_FOR = "M. Linden", "the whole left atrium"
MOST_KEYS, MOST_A_CLIP = 250, 4


def simulated(folder: Path) -> Path:
    """Return a folder with the demo's study and its truth, made there."""
    command = [sys.executable, "-m", "fanlight.cli", "simulate", *SETTING, "--quiet"]
    folders = ["--out", str(folder / "study"), "--truth", str(folder / "truth")]
    subprocess.run([*command, *folders], cwd=ROOT, check=True)
    return folder


def read_first(study: Path, data: Path) -> str:
    """Have a study read into a store of its own; return its id."""
    with open_store(data) as store, Desk(store, load_house(None), DeskOptions(cache=cache_folder())) as desk:
        taken = take_in_place(desk, study)
        while desk.engine.state(taken.study).state != "idle":
            time.sleep(0.2)
    return taken.study


def truths_of(demo: Path) -> dict[int, Any]:
    """Return what is true of each clip, by its number in the study."""
    truths = sorted(path for path in (demo / "truth").glob("*.json") if path.stem.isdigit())
    return {n: json.loads(path.read_text("utf-8")) for n, path in enumerate(truths, start=1)}


def work(page: Any, truths: dict[int, Any]) -> tuple[Keyboard, list[ClipKeys]]:
    """Do a mentor's work from the list on; return the keyboard with its count."""
    hand = Keyboard(page, part="opening the study, and a name")
    page.wait_for_selector(".line a")
    hand.press("ArrowDown", "Enter")
    page.wait_for_selector("canvas[data-frame]")
    hand.press("a")  # whoever decides is asked for a name first
    page.wait_for_selector(".panel.name input:focus")
    hand.write(NAME)
    hand.press("Enter")
    page.wait_for_selector(".panel.name", state="detached")
    views = {n: each["view"] for n, each in truths.items()}
    valves = {n: each["doppler"]["valve"] for n, each in truths.items() if each["doppler"] is not None}
    clips = decide_clips(hand, views, valves)
    say_something(hand)
    study = re.search(r"[0-9a-f]{8}-[0-9a-f-]{27}", page.url)
    if study is None:
        raise SystemExit(f"no study is open at {page.url}")
    all_sent(page)
    at_rest(page, study.group(0))  # strips are measured anew when they are placed
    sign_papers(hand, LOOK_FOR)
    return hand, clips


def table_of(hand: Keyboard, clips: list[ClipKeys]) -> str:
    """Return the count as Markdown."""
    most = max(clip.keys for clip in clips if clip.is_diagnostic)
    n_blind = sum(clip.is_blind for clip in clips)
    words = {
        "clips": f"{len(clips)} clips placed, the valve of Doppler said, every proposal decided",
        "letters": f"the study as a whole, the exercise ({len(LOOK_FOR)} letters of them), both signatures",
    }
    rows = [f"| {words.get(part, part)} | {n} | |" for part, n in hand.by_part.items()]
    return "\n".join(
        [
            "| part of the work | keys | at most |",
            "|---|---|---|",
            *rows,
            f"| **the whole study** | **{hand.n}** | {MOST_KEYS} |",
            f"| a clip that is diagnostic, the one that took most | {most} | {MOST_A_CLIP} |",
            "",
            f"{n_blind} of the clips was drawn to be judged before its proposals are shown: it takes a key more."
            if n_blind == 1
            else f"{n_blind} of the clips were drawn to be judged before their proposals are shown: a key more each.",
        ]
    )


def main() -> None:
    """Count, print, write the table; exit code 1 when a bound is not kept."""
    parser = argparse.ArgumentParser(description="Count the keys that the demo's study takes.")
    parser.add_argument("--demo", type=Path, help="folder that scripts/demo has filled; by default one is made")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        demo = asked.demo or simulated(Path(scratch))
        read_first(demo / "study", Path(scratch) / "data")
        service = Service(Path(scratch) / "data")
        try:
            with browser_page(service) as page:
                hand, clips = work(page, truths_of(demo))
        finally:
            service.kill_all()
    table = table_of(hand, clips)
    print(table)
    write_table(
        ROOT / "docs" / "desk.md", "keys-of-a-study", table, script=SCRIPT, describes=DESCRIBES, seeds=f"{SEED}, ring A"
    )
    if hand.n > MOST_KEYS or any(clip.keys > MOST_A_CLIP for clip in clips if clip.is_diagnostic):
        raise SystemExit("more keys than the desk aims at")


if __name__ == "__main__":
    main()
