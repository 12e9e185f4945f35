"""What the pages bring along from elsewhere is what it says it is, and names nothing outside."""

from __future__ import annotations

import hashlib
import re
from pathlib import Path

import pytest

from fanlight.study import Landmark

ROOT = Path(__file__).resolve().parents[2]
STATIC = ROOT / "src" / "fanlight" / "desk" / "static"
LISTS = (STATIC / "vendor" / "VENDORED.md", ROOT / "tests" / "desk_browser" / "vendor" / "VENDORED.md")


@pytest.mark.parametrize("listed", LISTS, ids=lambda path: path.parent.parent.name)
def test_vendored_files_have_the_hashes_that_are_listed(listed: Path) -> None:
    rows = re.findall(r"^\| (\S+\.js) \|.*?\b([0-9a-f]{64})\b", listed.read_text("utf-8"), re.MULTILINE)

    found = {name: hashlib.sha256((listed.parent / name).read_bytes()).hexdigest() for name, _ in rows}
    assert found == dict(rows)
    assert set(found) == {path.name for path in listed.parent.glob("*.js")}


def test_modules_load_nothing_from_elsewhere() -> None:
    """Each import is a path of this folder, and no page names another origin."""
    pages = [*STATIC.glob("*.js"), *STATIC.glob("*.html"), *STATIC.glob("*.css"), *(STATIC / "vendor").glob("*.js")]
    for page in pages:
        text = page.read_text("utf-8")
        for name in re.findall(r"""(?:from|import)\s*\(?["']([^"']+)["']""", text):
            assert name.startswith("."), f"{page.name} imports {name}"
            assert name.endswith(".js") or "import(" in name, f"{page.name} imports {name}"
        for address in re.findall(r"https?://[^\s\"'`)]+", text):
            assert address.startswith("http://www.w3.org/"), f"{page.name} names {address}"  # names of SVG, MathML


def test_landmarks_of_the_pages_are_those_of_the_heart() -> None:
    text = (STATIC / "landmarks.js").read_text("utf-8")

    pairs = re.findall(r'\["([A-Z_]+)", "([^"]+)"\]', text)
    assert pairs == [(item.name, item.value) for item in Landmark]


def test_no_file_of_the_pages_is_long() -> None:
    pages = [*STATIC.glob("*.js"), *STATIC.glob("*.css")]

    assert [page.name for page in pages if len(page.read_text("utf-8").splitlines()) > 300] == []
