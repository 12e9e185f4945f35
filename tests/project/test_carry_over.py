"""Tables are carried over a change of the heart's code only with a proof, and say so."""

from __future__ import annotations

from pathlib import Path

import pytest

from scripts.carry_over import Proof, carried, described_now, other_changes, unequal
from scripts.measured import Header, read_headers, verify, write_table

PROOF = Proof(commit="aaaa", now="bbbb", date="2026-11-27", n_things=7)
HEART, JUDGE = "src/fanlight/heart/paint.py", "src/fanlight/critique/gain.py"


@pytest.fixture
def trees(tmp_path: Path) -> tuple[Path, Path]:
    """The project before and now: the heart says the same in other words."""
    before, now = tmp_path / "before", tmp_path / "now"
    for tree, body in ((before, "def paint(): return 1 + 1\n"), (now, "def paint(): return 2\n")):
        for name, text in ((HEART, body), (JUDGE, "LIMIT = 3\n"), ("measure/criteria.py", "SEEDS = 4\n")):
            (tree / name).parent.mkdir(parents=True, exist_ok=True)
            (tree / name).write_text(text, encoding="utf-8")
    (now / "docs").mkdir()
    (before / "docs").mkdir()
    write_table(
        before / "docs" / "accuracy.md", "criteria", "| a |\n|---|\n| 1 |", script="measure/criteria.py",
        describes=[HEART, JUDGE], root=before,
    )  # fmt: skip
    (now / "docs" / "accuracy.md").write_text((before / "docs" / "accuracy.md").read_text(encoding="utf-8"), "utf-8")
    (now / "src/fanlight/heart/side.py").write_text("SIDE = 1\n", encoding="utf-8")
    return before, now


def _header(tree: Path) -> Header:
    return read_headers((tree / "docs" / "accuracy.md").read_text(encoding="utf-8"))[0]


def test_a_table_that_is_carried_over_is_fresh_and_says_so(trees: tuple[Path, Path]) -> None:
    before, now = trees
    page = now / "docs" / "accuracy.md"
    assert verify(now)
    measured_on = _header(now).date
    text = carried(page.read_text(encoding="utf-8"), {"criteria": described_now(_header(now), before, now)}, PROOF, now)
    page.write_text(text, encoding="utf-8")
    assert verify(now) == []
    assert text.count("7 things that it gives came out equal bit for bit") == 1
    assert "| 1 |" in text
    assert _header(now).date == measured_on


def test_it_tells_of_new_files_of_the_heart_from_then_on(trees: tuple[Path, Path]) -> None:
    before, now = trees
    page = now / "docs" / "accuracy.md"
    text = carried(page.read_text(encoding="utf-8"), {"criteria": described_now(_header(now), before, now)}, PROOF, now)
    page.write_text(text, encoding="utf-8")
    (now / "src/fanlight/heart/side.py").write_text("SIDE = 2\n", encoding="utf-8")
    assert verify(now)


def test_carried_over_twice_it_gives_the_last_proof_only(trees: tuple[Path, Path]) -> None:
    before, now = trees
    text = (now / "docs" / "accuracy.md").read_text(encoding="utf-8")
    tables = {"criteria": described_now(_header(now), before, now)}
    for _ in range(2):
        text = carried(text, tables, PROOF, now)
    assert text.count("Carried over on") == 1


def test_a_change_outside_the_heart_is_named(trees: tuple[Path, Path]) -> None:
    before, now = trees
    assert other_changes(_header(now), before, now) == []
    (now / JUDGE).write_text("LIMIT = 4\n", encoding="utf-8")
    assert other_changes(_header(now), before, now) == [JUDGE]


def test_what_differs_or_is_in_one_of_both_only_is_unequal() -> None:
    assert unequal({"a": "1", "b": "2", "c": "3"}, {"a": "1", "b": "9", "d": "4"}) == ["b", "c", "d"]
