"""A document as PDF, set by typst. User text enters only as data."""

from __future__ import annotations

import json
import tempfile
from functools import singledispatchmethod
from importlib import resources
from pathlib import Path
from typing import Any

import typst

from fanlight.report.document import (
    Advice,
    Beside,
    Cell,
    Document,
    Drawing,
    Excerpts,
    Facts,
    FanRow,
    Figure,
    Grid,
    Heading,
    Items,
    Moved,
    Paragraph,
)
from fanlight.report.fan import draw_logo

_TEXT_PT = 10.0


class _Folder:
    """Writes what typst reads: one JSON file, and each picture as a file of its own."""

    def __init__(self, root: Path) -> None:
        self._root = root
        self._n = 0

    def file(self, ending: str, data: bytes) -> str:
        self._n += 1
        name = f"{self._n:04d}.{ending}"
        (self._root / name).write_bytes(data)
        return name

    def drawing(self, item: Drawing) -> dict[str, Any]:
        return {"file": self.file("svg", item.svg.encode()), "alt": item.alt, "height_mm": item.height_mm}

    def cell(self, item: Cell) -> Any:
        return self.drawing(item) if isinstance(item, Drawing) else item

    @singledispatchmethod
    def block(self, item: object) -> dict[str, Any]:
        raise TypeError(f"no PDF form for {type(item).__name__}")

    @block.register
    def _(self, item: Heading) -> dict[str, Any]:
        return {"kind": "heading", "text": item.text, "level": item.level}

    @block.register
    def _(self, item: Paragraph) -> dict[str, Any]:
        return {"kind": "paragraph", "text": item.text, "voice": item.voice, "lead": item.lead}

    @block.register
    def _(self, item: Items) -> dict[str, Any]:
        return {"kind": "items", "entries": item.entries, "voice": item.voice}

    @block.register
    def _(self, item: Figure) -> dict[str, Any]:
        return {
            "kind": "figure",
            "file": self.file("png", item.png),
            "caption": item.caption,
            "alt": item.alt,
            "width_fraction": item.width_fraction,
        }

    @block.register
    def _(self, item: Grid) -> dict[str, Any]:
        rows = [[self.cell(cell) for cell in row] for row in item.rows]
        return {"kind": "grid", "head": item.head, "rows": rows, "widths": item.widths, "voice": item.voice}

    @block.register
    def _(self, item: Advice) -> dict[str, Any]:
        return {
            "kind": "advice",
            "number": item.number,
            "title": item.title,
            "where": item.where,
            "means": item.means,
            "cause": item.cause,
            "correction": item.correction,
            "withheld": item.withheld,
            "figure": self.block(item.figure) if item.figure else None,
            "value": item.value,
            "band": self.drawing(item.band) if item.band else None,
        }

    @block.register
    def _(self, item: Beside) -> dict[str, Any]:
        figure = self.block(item.figure) if item.figure else None
        return {"kind": "beside", "figure": figure, "facts": self.block(item.facts)}

    @block.register
    def _(self, item: FanRow) -> dict[str, Any]:
        fans = [{"drawing": self.drawing(fan), "name": name} for fan, name in item.fans]
        return {"kind": "fans", "fans": fans, "key": item.key}

    @block.register
    def _(self, item: Excerpts) -> dict[str, Any]:
        # Paper does not move: it names what plays in the other form of the letter.
        words = "; ".join(f"{each.title} ({each.caption})" for each in item.items)
        return {"kind": "paragraph", "text": f"Plays in the HTML letter: {words}.", "voice": "quiet", "lead": ""}

    @block.register
    def _(self, item: Moved) -> dict[str, Any]:
        drawings = [{**self.drawing(drawing), "caption": below} for drawing, below in item.drawings]
        pictures = [self.block(each) for each in item.pictures]
        shown = [*drawings, *pictures]
        return {"kind": "moved", "words": item.words, "shown": shown, "note": item.note, "voice": item.voice}

    @block.register
    def _(self, item: Facts) -> dict[str, Any]:
        return {"kind": "facts", "pairs": item.pairs, "columns": item.columns}


def _prepare(document: Document, root: Path, text_pt: float) -> Path:
    folder = _Folder(root)
    data = {
        "title": document.title,
        "subtitle": document.subtitle,
        "status": document.status,
        "caution": document.caution,
        "footer": document.footer,
        "small": document.small,
        "language": document.language,
        "text_pt": text_pt,
        "logo": folder.drawing(draw_logo()),
        "blocks": [folder.block(item) for item in document.blocks],
    }
    (root / "data.json").write_text(json.dumps(data), "utf-8")
    template = root / "page.typ"
    template.write_bytes((resources.files("fanlight.report") / "templates" / "page.typ").read_bytes())
    return template


def render_pdf(document: Document, text_pt: float = _TEXT_PT) -> tuple[bytes, int]:
    """Return the page as PDF, and how many pages it takes.

    Parameters
    ----------
    document : Document
        What to set.
    text_pt : float
        Size of the text; sheets have a size of their own.
    """
    with tempfile.TemporaryDirectory(prefix="fanlight-") as name:
        root = Path(name)
        template = _prepare(document, root, text_pt)
        # System fonts are left out, so that the page looks the same on every machine.
        pdf = typst.compile(str(template), root=str(root), format="pdf", ignore_system_fonts=True)
        pages = json.loads(
            typst.query(str(template), "<pages>", root=str(root), field="value", one=True, ignore_system_fonts=True)
        )
    return pdf, int(pages)
