"""Check the changelog fragments: their names, and that each says something to the user.

python scripts/changelog.py
"""

from __future__ import annotations

import re
import sys
from pathlib import Path

FOLDER = Path(__file__).resolve().parent.parent / "changelog.d"
KINDS = ("added", "changed", "fixed", "removed", "security", "data")
NAME = re.compile(rf"\d+(?:-[a-z0-9-]+)?\.(?:{'|'.join(KINDS)})\.md")
LONGEST_CHARACTERS = 600  # engineering judgement: two or three sentences; more belongs in docs/


def problems(folder: Path = FOLDER) -> list[str]:
    """Return what is wrong with the fragments of a folder."""
    found: list[str] = []
    for path in sorted(folder.iterdir()):
        if path.name == "README.md":
            continue
        if not NAME.fullmatch(path.name):
            found.append(f"{path.name}: the name must be ISSUE-topic.KIND.md, with KIND one of {', '.join(KINDS)}")
            continue
        text = path.read_text(encoding="utf-8").strip()
        if not text.endswith((".", "!", "?")):
            found.append(f"{path.name}: must be whole sentences, and end like one")
        if len(text) > LONGEST_CHARACTERS:
            found.append(f"{path.name}: {len(text)} characters; say it in {LONGEST_CHARACTERS}, and the rest in docs/")
    return found


if __name__ == "__main__":
    FOUND = problems()
    print("\n".join(FOUND) or "the changelog fragments are in order")
    sys.exit(1 if FOUND else 0)
