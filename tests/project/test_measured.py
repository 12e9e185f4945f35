"""A measured table in docs/ is refused once the code that it describes has changed."""

from pathlib import Path

import pytest

from scripts import measured

TABLE = "| stage | ms |\n|---|---|\n| decode | 1.8 |"


@pytest.fixture
def project(tmp_path: Path) -> Path:
    """A project with one described file, the script that measures it, and the page that it wrote."""
    (tmp_path / "src").mkdir()
    (tmp_path / "docs").mkdir()
    (tmp_path / "measure").mkdir()
    (tmp_path / "src/decode.py").write_text("# why\nSTEP = 1\n")
    (tmp_path / "measure/speed.py").write_text("")
    write(tmp_path)
    return tmp_path


def write(root: Path, table: str = TABLE) -> None:
    """Measure again."""
    page = root / "docs/performance.md"
    measured.write_table(page, "decode", table, script="measure/speed.py", describes=["src"], seeds="0-9", root=root)


def page(root: Path) -> Path:
    """Return the page that `write` writes."""
    return root / "docs/performance.md"


def test_a_fresh_table_is_good(project: Path) -> None:
    assert measured.verify(project) == []


def test_the_header_says_who_what_and_when(project: Path) -> None:
    (header,) = measured.read_headers(page(project).read_text())

    assert header.name == "decode"
    assert header.script == "measure/speed.py"
    assert header.seeds == "0-9"
    assert header.describes == ("src",)
    assert header.contents == measured.contents_hash(["src"], project)


def test_changed_code_makes_the_table_stale(project: Path) -> None:
    (project / "src/decode.py").write_text("# why\nSTEP = 2\n")

    (found,) = measured.verify(project)

    assert found.startswith("docs/performance.md: table 'decode' was measured on ")
    assert "the code it describes (src) is newer. Run: scripts/measure speed" in found


def test_a_new_file_makes_the_table_stale(project: Path) -> None:
    (project / "src/more.py").write_text("STEP = 3\n")

    assert len(measured.verify(project)) == 1


def test_a_comment_does_not_make_the_table_stale(project: Path) -> None:
    (project / "src/decode.py").write_text("# why, in better words\n\nSTEP = 1\n")

    assert measured.verify(project) == []


def test_code_that_is_gone_is_reported(project: Path) -> None:
    (project / "src/decode.py").unlink()
    (project / "src").rmdir()

    (found,) = measured.verify(project)

    assert "src is described by a measured table, but is not there" in found


def test_a_script_that_is_gone_is_reported(project: Path) -> None:
    (project / "measure/speed.py").unlink()

    (found,) = measured.verify(project)

    assert "written by measure/speed.py, which is not there" in found


@pytest.mark.parametrize(
    ("old", "new", "problem"),
    [
        ("seeds: 0-9\n", "", "lacks seeds"),
        ("<!-- measured end: decode -->", "", "has no end mark"),
        ("\n-->\n", "\n--> \n", "does not end in a line"),
    ],
)
def test_a_damaged_header_is_reported(project: Path, old: str, new: str, problem: str) -> None:
    text = page(project).read_text()
    assert old in text
    page(project).write_text(text.replace(old, new))

    (found,) = measured.verify(project)

    assert problem in found


def test_measuring_again_replaces_the_table_and_nothing_else(project: Path) -> None:
    text = page(project).read_text()
    page(project).write_text(f"# Speed\n\nWords above.\n\n{text}\nWords below.\n")
    (project / "src/decode.py").write_text("STEP = 5\n")

    write(project, TABLE.replace("1.8", "1.1"))

    text = page(project).read_text()
    assert "Words above." in text
    assert "Words below." in text
    assert "decode | 1.1 |" in text
    assert "decode | 1.8 |" not in text  # the header may tell of a load of 1.8
    assert measured.verify(project) == []
