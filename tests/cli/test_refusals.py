"""What the command cannot use: told where it stands, with a code of its own."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from pydicom.data import get_testdata_file

from tests.cli.sealed import Commands, fanlight


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[animal]\nspecies = 'dog'\n", "holds no marks"),
        ("[[mark]\n", "expected a request sheet in TOML"),
        ("[named]\nfailure = 3\n", "named.failure: expected"),
    ],
)
def test_a_marks_file_without_marks_is_told(commands: Commands, study: Path, home: Path, text: str, words: str) -> None:
    marks = home / "none.toml"
    marks.write_text(text)

    done = commands("review", str(study), "--marks", str(marks), home=home)

    assert done.returncode == 5
    assert words in " ".join(done.stderr.split())


def test_refused_files_are_named_and_change_the_exit_code(
    commands: Commands, study: Path, home: Path, tmp_path: Path
) -> None:
    shutil.copytree(study, tmp_path / "s")
    shutil.copy(str(get_testdata_file("CT_small.dcm")), tmp_path / "s" / "thorax.dcm")

    done = commands("check", str(tmp_path / "s"), "--quiet", home=home)

    assert done.returncode == 3
    assert "thorax.dcm: expected" in done.stderr


def test_nothing_readable_is_an_error_of_its_own(home: Path, tmp_path: Path) -> None:
    (tmp_path / "a.dcm").write_bytes(b"no picture")

    done = fanlight("review", str(tmp_path), home=home)

    assert done.returncode == 4
    assert "nothing could be read" in done.stderr


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('["criteria/gain".overall_gain]\nweigth = 3\n', "no such row"),
        ("this is not TOML", "Mend the TOML"),
    ],
)
def test_a_house_file_that_cannot_be_used_says_where(
    commands: Commands, text: str, said: str, home: Path, tmp_path: Path
) -> None:
    (tmp_path / "house.toml").write_text(text)

    done = commands("review", str(tmp_path), "--house", str(tmp_path / "house.toml"), home=home)

    assert done.returncode == 5
    assert said in done.stderr


def test_a_request_that_cannot_be_used_says_why(commands: Commands, study: Path, home: Path) -> None:
    done = commands("review", str(study), "--weight-kg", "4200", home=home)

    assert done.returncode == 5
    assert "animal.weight_kg: expected a number from 0.1 to 149 kg; found 4200" in done.stderr


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--plan", "nosuch"], "plan 'nosuch' does not exist; plans:"),
        (["--out", "/proc/nowhere/x"], "Name a folder that you may write to"),
        (["--set", "murmur=3"], "expected TABLE.FIELD=VALUE"),
        (["--set", "request.murmur_grade=9"], "a whole number from 0 to 6"),
        (["--set", "request.nosuch=1"], "nosuch"),
        (["--measurement", "LVIDd 3.6"], "expected NAME=VALUE UNIT, METHOD"),
    ],
)
def test_options_that_cannot_be_used_are_refused_before_anything_is_read(
    commands: Commands, arguments: list[str], said: str, study: Path, home: Path
) -> None:
    done = commands("review", str(study), *arguments, home=home)

    assert done.returncode == 5, done.stderr
    assert said in done.stderr
