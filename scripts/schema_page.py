"""Write docs/review.schema.json from the classes of a review, so that the published schema cannot say anything else.

python scripts/schema_page.py [--check]     --check: only say whether the file is up to date
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

from fanlight.report.json_file import review_schema

FILE = Path(__file__).resolve().parent.parent / "docs" / "review.schema.json"


def render() -> str:
    """Return the file: the same text that lies beside each `review.json`, and a line end."""
    return json.dumps(review_schema(), indent=1) + "\n"


def main(arguments: list[str], file: Path = FILE) -> int:
    """Write or compare the file; return the exit code."""
    text = render()
    if "--check" not in arguments:
        file.write_text(text, encoding="utf-8")
        return 0
    if not file.exists() or file.read_text(encoding="utf-8") != text:
        print(f"docs/{file.name} is not what a review is made of. Run: python scripts/schema_page.py")
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
