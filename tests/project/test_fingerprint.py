"""What makes a measured table stale is what a program does, not where a definition stands or what is said about it."""

from __future__ import annotations

from pathlib import Path

import pytest

from scripts.fingerprint import fingerprint

FIRST = '''"""Flow."""

from numpy.typing import NDArray

from fanlight.numbers import half

STEP = 2  # ms


@half
def flow(x):
    """Return the flow."""
    # in a line
    return STEP * x
'''
SECOND = "def still(x):\n    return 0\n"


def of(folder: Path, **texts: str) -> str:
    """Return the fingerprint of some modules."""
    files = []
    for name, text in texts.items():
        path = folder / f"{name}.py"
        path.write_text(text)
        files.append(path)
    return fingerprint(files)


def test_words_do_not_count(tmp_path: Path) -> None:
    other = (
        FIRST.replace("Return the flow.", "What passes.\n\n    In mL.\n    ")
        .replace("# in a line", "# quick")
        .replace("# ms", "# in ms")
    )

    assert of(tmp_path, a=other.replace("Flow.", "How much.")) == of(tmp_path, a=FIRST)


def test_it_does_not_matter_where_a_definition_stands(tmp_path: Path) -> None:
    together = of(tmp_path, a=FIRST + "\n\n" + SECOND)

    assert of(tmp_path, a=FIRST, b=SECOND) == together
    assert of(tmp_path, b=SECOND, c=FIRST) == together


def test_what_is_imported_may_move_to_another_room(tmp_path: Path) -> None:
    other = FIRST.replace("import half", "import half, quarter").replace("fanlight.numbers", "fanlight.heart.halves")

    assert of(tmp_path, a=other) == of(tmp_path, a=FIRST)


def test_a_sign_for_a_comment_within_a_text_is_none(tmp_path: Path) -> None:
    assert of(tmp_path, a='COLOUR = "#fff"  # white\n') == of(tmp_path, a='COLOUR = "#fff"\n')
    assert of(tmp_path, a='COLOUR = "#fff"\n') != of(tmp_path, a='COLOUR = "#000"\n')


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("STEP = 2", "STEP = 3"),
        ("STEP * x", "STEP + x"),
        ("import half", "import quarter as half"),
        ("numpy.typing", "jax.typing"),
        ("@half\n", ""),
        ("def flow(x)", "def flow(x, y=1)"),
        ("    return STEP * x", "    if x:\n        return STEP * x"),
    ],
)
def test_what_a_program_does_counts(tmp_path: Path, old: str, new: str) -> None:
    assert old in FIRST

    assert of(tmp_path, a=FIRST.replace(old, new)) != of(tmp_path, a=FIRST)


def test_a_definition_that_goes_or_comes_twice_counts(tmp_path: Path) -> None:
    one = of(tmp_path, a=SECOND)

    assert of(tmp_path, a="") != one
    assert of(tmp_path, a=SECOND, b=SECOND) != one


def test_a_table_counts_by_its_rows_and_its_name(tmp_path: Path) -> None:
    rows, other = tmp_path / "rows.toml", tmp_path / "other.toml"
    rows.write_text("# why\na = 1\n")
    before = fingerprint([rows])
    rows.write_text("\n# in better words\na = 1\n")
    assert fingerprint([rows]) == before
    other.write_bytes(rows.read_bytes())
    assert fingerprint([other]) != before
    rows.write_text("a = 2\n")
    assert fingerprint([rows]) != before
