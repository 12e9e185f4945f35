"""Make the gallery of Doppler faults: docs/gallery-doppler.md and its pictures. Takes some minutes.

    python -m measure.doppler_gallery                              writes the page and docs/images/doppler/
    python -m measure.doppler_gallery --look FOLDER [--only TEXT]  writes the sheets as PNG there and leaves docs/ alone

Every picture is made anew from a seed of ring A; SIMULATED stands on each screen. No test depends on the pictures.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", MKL_NUM_THREADS="1")

import numpy as np

from fanlight.heart.kinds import HeartClass
from fanlight.reference.load import load_house
from fanlight.reference.views import read_views
from fanlight.simulate.faults.doppler_faults import DOPPLER_FAULTS, apply_doppler
from fanlight.simulate.faults.fault import Fault
from fanlight.simulate.faults.fault_doppler import DopplerFaultKind, DopplerGroup
from fanlight.simulate.screen.screen_layouts import LAYOUTS
from fanlight.study import MODE_WORDS, Mode, Species, Valve
from measure._described import described
from measure._doppler_clips import Camera
from measure._doppler_pictures import Image, bench_of, beside, picture_of, rung_at
from measure._doppler_words import DOPPLER_WORDS
from measure._gallery_page import run, write_pictures
from scripts.measured import write_table

ROOT = Path(__file__).resolve().parent.parent
PAGE, PICTURES = ROOT / "docs" / "gallery-doppler.md", ROOT / "docs" / "images" / "doppler"
SEED, WEIGHT_KG = 6, 12.0
LAYOUT = LAYOUTS["right_column"]
GRADES = (3, 5)
PANEL_PX = 400
MOST_BYTES, MOST_BYTES_ALL = 42_000, 1_000_000
SCRIPTS = (
    "measure/doppler_gallery.py", "measure/_gallery_page.py", "measure/_doppler_pictures.py",
    "measure/_doppler_words.py", "measure/_doppler_clips.py", "measure/_panel.py",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One picture of the gallery: a fault."""

    kind: DopplerFaultKind
    caption: str

    @property
    def name(self) -> str:
        """Of the file, without ending."""
        return self.kind.key.replace("_", "-")

    @property
    def most_bytes(self) -> int:
        """How large its file may be."""
        return MOST_BYTES

    def make(self) -> Image:
        """Return a fault at its grades beside the same clip without it."""
        camera, good = camera_at(*DOPPLER_WORDS[self.kind.key].at)
        panels = [good]
        for fault in faults_of(self.kind):
            clip = apply_doppler(fault, camera.rung.steady, camera.bench.flow)
            panels.append(picture_of(camera, clip, PANEL_PX, f"grade {fault.strength}"))
        return beside(panels)


def sheets() -> Iterator[Sheet]:
    """Yield every fault in the page's order."""
    titles = {key: view.title for key, view in read_views(load_house()).items()}
    for kind in DOPPLER_FAULTS.values():
        words = DOPPLER_WORDS[kind.key]
        view, valve, mode = words.at
        sizes = [f"{fault.strength}: {words.size.format(a=fault.amount)}" for fault in faults_of(kind)]
        what = f"good, then grades {'; '.join(sizes)}" if words.size else "good, then faulty"
        at = f"{MODE_WORDS[mode]} of the {valve.value} valve, {titles[view][0].lower()}{titles[view][1:]}"
        yield Sheet(kind=kind, caption=f"{at}; {what}. Notice: {words.notice}.".replace(" x ", " × "))


def faults_of(kind: DopplerFaultKind) -> list[Fault]:
    """Return the fault at the grades that are shown; one where all grades are the same."""
    animal = bench_of(SEED, Species.DOG, WEIGHT_KG, HeartClass.NORMAL, LAYOUT).subject.animal
    grades = GRADES[-1:] if len(set(kind.steps)) == 1 else GRADES
    return [kind.make(grade, animal, np.random.default_rng(SEED)) for grade in grades]


@cache
def camera_at(view: str, valve: Valve, mode: Mode) -> tuple[Camera, Image]:
    """Return the machine at a rung, and the picture without fault."""
    bench = bench_of(SEED, Species.DOG, WEIGHT_KG, HeartClass.NORMAL, LAYOUT)
    rung = rung_at(bench, view, valve, mode)
    camera = Camera(bench, rung)
    return camera, picture_of(camera, rung.steady, PANEL_PX, "good")


SECTIONS = {
    DopplerGroup.COLOUR: (
        "Faults of colour Doppler",
        "The moment with the most colour; the strip below is the middle line of the box over time.",
    ),
    DopplerGroup.SPECTRUM: ("Faults of spectra", "The whole screen."),
}
HEAD = """# Gallery of Doppler faults

The Doppler faults that the simulator makes on purpose, drawn by a script: one dog, one machine, each fault alone.
Everything here is invented; no picture is of an animal, and no test depends on these pictures.
Grades run from 1 (just there) to 5 (gross). The signs named under *Notice* are common practice, no source.
"""


def page_of(made: list[Sheet]) -> str:
    """Return the gallery as Markdown, without the page's head."""
    lines: list[str] = []
    for group, (title, words) in SECTIONS.items():
        lines += [f"## {title}", "", words, ""]
        for sheet in made:
            if sheet.kind.group is group:
                lines += [f"**{sheet.kind.title[0].upper()}{sheet.kind.title[1:]}.** {sheet.caption}", ""]
                lines += [f"![{sheet.kind.title}](images/doppler/{sheet.name}.jpg)", ""]
    return "\n".join(lines)


def write_gallery() -> None:
    """Make every picture, then put page and pictures in place of the old ones, both or neither."""
    differ = set(DOPPLER_FAULTS) ^ set(DOPPLER_WORDS)
    if differ:
        raise SystemExit(f"measure/_doppler_words.py and the faults differ: {', '.join(sorted(differ))}")
    made = list(sheets())
    write_pictures(made, PICTURES, MOST_BYTES_ALL)
    PAGE.write_text(HEAD, encoding="utf-8")
    write_table(
        PAGE, "gallery-doppler", page_of(made), script="measure/doppler_gallery.py", describes=described(*SCRIPTS),
        seeds=str(SEED),
    )  # fmt: skip


def main() -> None:
    """Make the gallery."""
    run("docs/gallery-doppler.md", sheets, write_gallery)


if __name__ == "__main__":
    main()
