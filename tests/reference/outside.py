"""Numbers from outside the project, as their sources print them."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any, cast

from pydicom.sr._concepts_dict import concepts

# Code dictionaries of DICOM PS3.16 as pydicom carries them: scheme, keyword, code, (meaning, context groups).
STANDARD_CODES = cast("dict[str, dict[str, dict[str, tuple[str, Any]]]]", concepts)

AUTHORITIES = Path(__file__).parent / "authorities"


def authority_rows(name: str) -> list[dict[str, str]]:
    """Return the rows of one file; its first lines may be remarks."""
    lines = (AUTHORITIES / name).read_text("utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))
