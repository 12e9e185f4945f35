"""`fanlight check`, while the animal is on the table."""

from __future__ import annotations

import json
from pathlib import Path

from tests.cli.sealed import Commands
from tests.cli.test_review import MARKS


def test_check_says_what_to_scan_again_without_numbers(commands: Commands, study: Path, home: Path) -> None:
    done = commands("check", str(study), "--json", home=home)
    found = json.loads(done.stdout)

    assert done.returncode == 0, done.stderr
    assert "breathing is laboured" in found["first_line"]
    assert len(found["retakes"]) <= 5
    assert not any(ch.isdigit() for item in found["retakes"] for ch in item["words"])
    asked_of_clips = [item for item in found["retakes"] if item["criterion"]]
    assert asked_of_clips
    assert all((item["change"] is None) is bool(item["no_change"]) for item in asked_of_clips)


def test_check_takes_a_marks_file_as_a_review_does(commands: Commands, study: Path, home: Path) -> None:
    """What is named no scan is not scanned again; a bad mark of the file is named, and changes the exit code."""
    marks = home / "named.toml"
    marks.write_text('[[file]]\nname = "clip.dcm"\nmode = "not_echo"\n' + MARKS)

    plain = commands("check", str(study), "--json", home=home)
    named = commands("check", str(study), "--marks", str(marks), "--json", home=home)

    assert named.returncode == 3
    assert "named.toml, line 19, mark 2.kind: expected one of" in " ".join(named.stderr.split())
    of_clips = [[item for item in json.loads(done.stdout)["retakes"] if item["criterion"]] for done in (plain, named)]
    assert of_clips[0]
    assert of_clips[1] == []


def test_check_on_a_distressed_animal_says_stop_first(commands: Commands, study: Path, home: Path) -> None:
    done = commands("check", str(study), "--breathing", "distressed", home=home)

    assert done.stdout.startswith("Stop: the request sheet says that the animal is distressed. The scan can wait;")
