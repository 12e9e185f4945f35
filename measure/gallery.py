"""Make the gallery of the simulator: docs/gallery.md and its pictures. Takes some minutes.

    python -m measure.gallery                            writes docs/gallery.md and docs/images/gallery/
    python -m measure.gallery --look FOLDER [--only TEXT]  writes the sheets as PNG there and leaves docs/ alone

Every picture is made anew from seeds of ring A; SIMULATED stands beside each sector. No test depends on the pictures.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path

os.environ.update(OMP_NUM_THREADS="1", OPENBLAS_NUM_THREADS="1", MKL_NUM_THREADS="1")  # as the simulator's worker does

import numpy as np

from fanlight.heart.standard_poses import STANDARD_VIEWS
from fanlight.simulate.faults.fault import FaultKind
from fanlight.simulate.faults.faults import FAULTS, make
from fanlight.simulate.screen.screen_layouts import LAYOUTS
from fanlight.simulate.screen.screen_layouts_shifted import SHIFTED_LAYOUTS
from fanlight.study import Species
from measure._described import described
from measure._gallery_page import run, write_pictures
from measure._gallery_pictures import (
    CAT_KG,
    CAT_SEED,
    DOG_KG,
    DOG_SEED,
    PANEL_PX,
    SMALL_PX,
    STRENGTHS,
    Image,
    animal_of,
    both_moments,
    class_sheet,
    fault_sheet,
    layout_sheet,
    m_mode_sheet,
    titles,
)
from measure._gallery_words import CHORDAE, CLASS_VIEWS, CLASS_WORDS, FAULT_WORDS, MITRAL, FaultWords
from scripts.measured import write_table

ROOT = Path(__file__).resolve().parent.parent
PAGE, PICTURES = ROOT / "docs" / "gallery.md", ROOT / "docs" / "images" / "gallery"
MOST_BYTES, MOST_BYTES_CAT, MOST_BYTES_ALL = 25_000, 16_000, 3_000_000
SCRIPTS = (
    "measure/gallery.py",
    "measure/_gallery_page.py",
    "measure/_gallery_pictures.py",
    "measure/_gallery_words.py",
    "measure/_panel.py",
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One picture of the gallery."""

    section: str
    name: str  # of its file, without ending
    title: str
    caption: str
    make: Callable[[], Image]
    most_bytes: int = MOST_BYTES


def sheets() -> Iterator[Sheet]:
    """Yield every picture of the gallery in the page's order."""
    for view in STANDARD_VIEWS:
        for species, most in ((Species.DOG, MOST_BYTES), (Species.CAT, MOST_BYTES_CAT)):
            yield Sheet(
                section="views", name=f"{species.value.lower()}-{view.replace('_', '-')}", title=titles()[view],
                caption=f"{species.value.lower()}, {DOG_KG if species is Species.DOG else CAT_KG:g} kg",
                make=partial(both_moments, view, species, px=PANEL_PX if species is Species.DOG else SMALL_PX),
                most_bytes=most,
            )  # fmt: skip
    for heart, views in CLASS_VIEWS.items():
        for view in views:
            yield Sheet(
                section="hearts", name=f"heart-{heart.value.replace('_', '-')}-{view.replace('_', '-')}",
                title=heart.value.replace("_", " "), caption=f"{titles()[view]}: {CLASS_WORDS[heart]}",
                make=partial(class_sheet, heart, view),
            )  # fmt: skip
    for kind in FAULTS.values():
        yield Sheet(
            section=f"{kind.group.value} faults", name=f"fault-{kind.key.replace('_', '-')}", title=kind.title,
            caption=fault_caption(kind, FAULT_WORDS[kind.key]), make=partial(fault_sheet, kind),
        )  # fmt: skip
    for view in (CHORDAE, MITRAL):
        yield Sheet(
            section="M-mode", name=f"m-mode-{view.replace('_', '-')}", title=titles()[view],
            caption="ventricle" if view == CHORDAE else "mitral leaflets",
            make=partial(m_mode_sheet, view, LAYOUTS["right_column"]),
        )  # fmt: skip
    for ring, layouts in (("A and B", LAYOUTS), ("C", SHIFTED_LAYOUTS)):
        for layout in layouts.values():
            yield Sheet(
                section="screens", name=f"screen-{layout.key.replace('_', '-')}", title=layout.key.replace("_", " "),
                caption=f"rings {ring}, {layout.cols} × {layout.rows} pixels" if ring != "C" else
                f"ring C, {layout.cols} × {layout.rows} pixels", make=partial(layout_sheet, layout),
            )  # fmt: skip


def fault_caption(kind: FaultKind, words: FaultWords) -> str:
    """Return what a fault's sheet shows, with its sizes."""
    sizes = []
    for strength in STRENGTHS if len(set(kind.steps)) > 1 else ():
        amount = make(kind.key, strength, animal_of(Species.DOG), np.random.default_rng(DOG_SEED)).amount
        sizes.append(f"{strength}: {words.size.format(a=amount)}")
    what = f"good, then grades {'; '.join(sizes)}" if sizes else "good, then faulty"
    return f"{titles()[words.view]}; {what}. Notice: {words.notice}."


SECTIONS = {
    "views": (
        "Standard views",
        "Each at end-diastole (the mitral level: in early filling) and end-systole, as a steady hand takes it.",
    ),
    "hearts": ("Hearts", "Normal, then diseased; each at end-diastole and end-systole. The shapes diagnose nothing."),
    "pose faults": ("Faults of the probe's place", "At end-diastole."),
    "console faults": ("Faults at the console", "At end-diastole. Strips below a sector: its middle line over time."),
    "contact faults": ("Faults of contact", "At end-diastole and the end of expiration."),
    "M-mode faults": ("Faults of the M-mode", "The cursor is drawn in the small picture."),
    "record faults": ("Faults of what is stored", "Some show over time only."),
    "M-mode": ("M-mode", "As a steady hand takes it."),
    "screens": ("Screens", "Invented consoles."),
}


def page_of(made: list[Sheet]) -> str:
    """Return the gallery as Markdown, without the page's head."""
    lines: list[str] = []
    for section, (title, words) in SECTIONS.items():
        here = [sheet for sheet in made if sheet.section == section]
        lines += [f"## {title}", "", words, ""]
        if section == "views":
            lines += ["| dog, 12 kg | cat, 4.5 kg |", "|---|---|"]
            for dog, cat in zip(here[::2], here[1::2], strict=True):
                cells = (f"{sheet.title}, {sheet.caption} ![{sheet.title}](images/gallery/{sheet.name}.jpg)"
                         for sheet in (dog, cat))  # fmt: skip
                lines.append(f"| {' | '.join(cells)} |")
            lines.append("")
            continue
        for sheet in here:
            lines += [f"**{sheet.title[0].upper()}{sheet.title[1:]}.** {sheet.caption}", ""]
            lines += [f"![{sheet.title}](images/gallery/{sheet.name}.jpg)", ""]
    return "\n".join(lines)


HEAD = """# Gallery of the simulator

What the simulator makes, drawn by a script: every view, heart, fault and screen.
Everything here is invented; no picture is of an animal, and no test depends on these pictures.
A dot marks the side of the probe's marker, a wedge the focus, each tick at the right edge a centimetre of depth.
Grades run from 1 (just there) to 5 (gross). The signs named under *Notice* are common practice, no source.
"""


def write_gallery() -> None:
    """Make every picture, then put page and pictures in place of the old ones, both or neither."""
    missing = set(FAULTS) ^ set(FAULT_WORDS)
    if missing:
        raise SystemExit(
            f"measure/_gallery_words.py and the faults differ: {', '.join(sorted(missing))}; name each once"
        )
    made = list(sheets())
    write_pictures(made, PICTURES, MOST_BYTES_ALL)
    PAGE.write_text(HEAD, encoding="utf-8")
    write_table(
        PAGE, "gallery", page_of(made), script="measure/gallery.py", describes=described(*SCRIPTS),
        seeds=f"{DOG_SEED} (dog), {CAT_SEED} (cat)",
    )  # fmt: skip


def main() -> None:
    """Make the gallery."""
    run("docs/gallery.md", sheets, write_gallery)


if __name__ == "__main__":
    main()
