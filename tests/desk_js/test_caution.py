"""The usual caution on the screens says what the papers say."""

from __future__ import annotations

import re
from pathlib import Path

from fanlight.report.words import NUMBERS, SUPPORT

CAUTION = Path(__file__).resolve().parents[2] / "src" / "fanlight" / "desk" / "static" / "caution.js"


def test_the_caution_of_the_screens_is_that_of_the_papers() -> None:
    """Each of its sentences stands in the papers, as far as one line has room for it."""
    found = re.search(r'CAUTION =\s*"([^"]+)"', CAUTION.read_text("utf-8"))
    assert found is not None
    support, sources, urgent = found[1].removesuffix(".").split(". ")

    assert f"{support}." in SUPPORT
    assert sources.replace("Reference limits", "Reference intervals") in NUMBERS
    assert urgent.removeprefix("With urgent signs ") == "contact a veterinarian now"
    assert "contact a veterinarian now" in NUMBERS
    assert "With urgent signs" in NUMBERS
