"""`fanlight review`: its files, its numbers, its report, what becomes of earlier advice; without any network."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path

import jsonschema
import pydicom
import pytest
from PIL import Image
from pydicom.data import get_testdata_file

from tests.cli.sealed import Commands, fanlight


@pytest.fixture(scope="module")
def reviewed(study: Path, home: Path) -> tuple[subprocess.CompletedProcess[str], Path]:
    out = home / "out"
    return fanlight("review", str(study), "--out", str(out), home=home), out


def test_a_review_writes_its_files_without_any_network(
    reviewed: tuple[subprocess.CompletedProcess[str], Path],
) -> None:
    done, out = reviewed

    assert done.returncode == 0, done.stderr
    names = (
        "letter.pdf", "letter.html", "summary.pdf", "summary.html", "study-sheet.pdf", "study-sheet.html",
        "review.json", "review.schema.json",
    )  # fmt: skip
    said = done.stdout.splitlines()
    assert said[: len(names)] == [str(out / name) for name in names]
    assert all(line.startswith("change ") for line in said[len(names) :])
    assert all(file.stat().st_size > 500 for file in out.iterdir())


def test_json_agrees_with_its_schema_and_holds_what_was_asked(
    reviewed: tuple[subprocess.CompletedProcess[str], Path],
) -> None:
    _, out = reviewed
    review = json.loads((out / "review.json").read_text())

    jsonschema.validate(review, json.loads((out / "review.schema.json").read_text()))
    assert review["study"]["identity"]["animal_name"] == "Juniper"
    names = {item["name"]: item for item in review["measurements"]}
    # Worked row C04 (computed): 3.6 cm at 8 kg is 1.953 cm/kg^0.294.
    assert names["lviddn"]["value"] == pytest.approx(1.953, abs=0.001)


MARKS = """
[[file]]
name = "clip.dcm"
points = [{row = 10, col = 20}, {row = 110, col = 20}]
distance_mm = 50

[[mark]]
file = "clip.dcm"
kind = "line"
frame = 2
points = [{row = 100, col = 100}, {row = 140, col = 130}]
label = "ventricle"

[[mark]]
file = "clip.dcm"
kind = "ring"
points = [{row = 100, col = 100}]
"""


def test_a_marks_file_is_measured_and_a_bad_mark_in_it_named(commands: Commands, study: Path, home: Path) -> None:
    """Where the file's own regions give the scale, it holds; ± is the error of a hand (docs/marks-file.md)."""
    marks, out = home / "marks.toml", home / "marked"
    marks.write_text(MARKS)

    done = commands("review", str(study), "--marks", str(marks), "--out", str(out), home=home)

    assert done.returncode == 3, done.stderr
    assert "marks.toml, line 16, mark 2.kind: expected one of" in " ".join(done.stderr.split())
    review = json.loads((out / "review.json").read_text())
    scale = review["readings"][0]["layout"]["scale"]
    (found,) = [item for item in review["measurements"] if item["given_by"] == "marked by hand"]
    true = ((40 * scale["mm_per_row_px"]) ** 2 + (30 * scale["mm_per_col_px"]) ** 2) ** 0.5 if scale else None
    assert found["value"] == (None if true is None else pytest.approx(true))
    assert (found["label"], found["frames"], found["clip"]) == ("ventricle: length", [1], "clip.dcm")
    assert "clip.dcm, frame 2, ventricle: length: " in done.stdout
    assert "ventricle" in (out / "study-sheet.html").read_text()


NAMED = """
[named]
by = "M. Mentor"
lesions = ["MMVD"]
failure = "none"
treatment = "none"

[[earlier]]
date = 1990-03-01
quantity = "LVIDd"
value = 3.5
unit = "cm"
method = "M-mode"

[[earlier]]
date = 1990-03-01
quantity = "paw"
value = 1
"""


def test_what_the_mentor_names_is_graded_and_earlier_numbers_compared(
    commands: Commands, study: Path, home: Path
) -> None:
    """Worked row C04: 3.6 cm at 8 kg; 9.3 % (ACVIM2018C10) times 2.77 of 3.55 cm is 9.2 mm: no change."""
    marks, out = home / "named.toml", home / "named"
    marks.write_text(NAMED)

    done = commands(
        "review", str(study), "--marks", str(marks), "--out", str(out), "--measurement", "LVIDd=3.6 cm, M-mode",
        home=home,
    )  # fmt: skip

    assert done.returncode == 3, done.stderr
    assert "marks.toml" not in done.stderr
    assert "earlier 2: expected date, quantity" in " ".join(done.stderr.split())
    assert "not a table" not in done.stderr
    assert "Named by M. Mentor: myxomatous mitral valve disease; no heart failure; treatment: none." in done.stdout
    assert "Stage of mitral valve disease: empty: B1 and B2 need all four criteria" in done.stdout
    assert "No change since 1 March 1990 that can be told from a repeat scan: LVIDd 35.0 mm, now 36.0 mm" in done.stdout
    review = json.loads((out / "review.json").read_text())
    jsonschema.validate(review, json.loads((out / "review.schema.json").read_text()))
    assert [item["key"] for item in review["meaning"]["gradings"]] == ["mitral_stage", "mitral_score"]
    assert "What the numbers mean together" in (out / "summary.html").read_text()


def test_breathing_that_is_not_normal_keeps_handling_advice_back(
    reviewed: tuple[subprocess.CompletedProcess[str], Path],
) -> None:
    from fanlight.reference.criteria import read_criteria
    from fanlight.reference.load import load_house

    _, out = reviewed
    letter = (out / "letter.html").read_text()
    handled = [
        advice.correction
        for item in read_criteria(load_house()).values()
        for advice in (item.low, item.high)
        if advice is not None and advice.handling
    ]

    assert handled
    assert not any(words in letter for words in handled)


def test_any_field_of_the_request_and_any_measurement_can_be_given(
    commands: Commands, study: Path, home: Path, tmp_path: Path
) -> None:
    done = commands(
        "review", str(study), "--out", str(tmp_path), "--set", "request.signs=coughs at night",
        "--set", 'request.named_diseases=["myxomatous mitral valve disease"]',
        "--measurement", "LA:Ao=1.9, 2-D", home=home,
    )  # fmt: skip
    review = json.loads((tmp_path / "review.json").read_text())

    assert done.returncode == 0, done.stderr
    assert review["study"]["request"]["signs"] == "coughs at night"
    assert {"la_ao", "lvidd"} <= {item["name"] for item in review["measurements"]}


def test_the_numbers_are_written_as_a_structured_report_and_not_read_back(
    commands: Commands, home: Path, tmp_path: Path
) -> None:
    """In the study of the picture, with its number; laid among the files, it brings no number of the machine."""
    files, out = tmp_path / "files", tmp_path / "out"
    files.mkdir()
    shutil.copy(str(get_testdata_file("examples_ybr_color.dcm")), files / "clip.dcm")
    typed = ("--measurement", "EPSS=7 mm", "--no-cache")
    first = commands("review", str(files), "--out", str(out), "--dicom-report", *typed, home=home)
    report = pydicom.dcmread(out / "fanlight-report.dcm")
    picture = pydicom.dcmread(files / "clip.dcm", stop_before_pixels=True)

    assert first.returncode == 0, first.stderr
    assert "fanlight-report.dcm" in first.stdout
    assert report.StudyInstanceUID == picture.StudyInstanceUID
    assert (report.PatientID, report.PatientName) == (picture.PatientID, picture.PatientName)
    assert str(picture.PatientName) not in first.stderr

    shutil.copy(out / "fanlight-report.dcm", files)
    second = commands("review", str(files), "--out", str(tmp_path / "second"), "--json", home=home)
    found = json.loads(second.stdout)

    assert found["study"]["machine_measurements"] == []
    assert any("a report that Fanlight wrote" in note for note in found["study"]["notes"])


def test_files_that_disagree_about_the_animal_give_no_report(
    commands: Commands, study: Path, home: Path, tmp_path: Path
) -> None:
    """The request sheet names Juniper, the picture somebody else: no number goes into an archive under that name."""
    done = commands("review", str(study), "--out", str(tmp_path / "out"), "--dicom-report", home=home)

    assert done.returncode == 3
    assert "the files do not agree about the animal or the day" in done.stderr
    assert not (tmp_path / "out" / "fanlight-report.dcm").exists()


def test_plain_pictures_give_no_structured_report_and_the_reason(
    commands: Commands, home: Path, tmp_path: Path
) -> None:
    Image.new("L", (64, 48), 90).save(tmp_path / "still.png")
    out = tmp_path / "out"
    done = commands("review", str(tmp_path / "still.png"), "--out", str(out), "--dicom-report", home=home)

    assert done.returncode == 3
    assert "no picture has an identity in DICOM" in done.stderr
    assert "Ask the practice for the DICOM export" in done.stderr
    assert (out / "letter.pdf").exists()
    assert not (out / "fanlight-report.dcm").exists()


def test_forget_empties_the_cache(
    commands: Commands, reviewed: tuple[subprocess.CompletedProcess[str], Path], home: Path, tmp_path: Path
) -> None:
    shutil.copytree(home / "cache", tmp_path / "cache")

    first = commands("forget", home=tmp_path)
    second = commands("forget", home=tmp_path)

    assert int(first.stdout.split()[0]) > 0
    assert int(second.stdout.split()[0]) == 0


def test_help_names_the_exit_codes(home: Path) -> None:
    assert "Exit codes" in fanlight("--help", home=home).stdout


@pytest.fixture(scope="module")
def first(commands: Commands, study: Path, home: Path) -> Path:
    """Return the review.json of an earlier study of T. Okafor."""
    done = commands(
        "review", str(study), "--out", str(home / "first"), "--set", "identity.examined_at=2026-03-01",
        "--set", "request.trainee=T. Okafor", "--quiet", home=home,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return home / "first" / "review.json"


def test_a_later_study_of_the_trainee_says_what_became_of_the_advice(
    commands: Commands, study: Path, home: Path, first: Path
) -> None:
    """The same clip again: what was advised is still there, and what is advised again carries its record."""
    second = home / "second"
    again = commands(
        "review", str(study), "--out", str(second), "--set", "identity.examined_at=2026-03-08",
        "--set", "request.trainee=T. Okafor", "--earlier", str(first), home=home,
    )  # fmt: skip
    found = json.loads((second / "review.json").read_text("utf-8"))["follow_up"]
    letter = (second / "letter.html").read_text("utf-8")

    assert again.returncode == 0, again.stderr
    assert found["since"] == "2026-03-01T00:00:00"
    given = {item["advice"]["about"]: item for item in found["advice"]}
    advised = json.loads(first.read_text("utf-8"))["priorities"]
    assert set(given) >= {f"{item['criterion']}:{item['side']}" for item in advised if item["correction"]}
    assert all(item["outcome"] == "still there" for item in given.values() if item["tried_in"])
    assert any(item["tried_in"] for item in given.values())
    assert "earlier advice: " in again.stdout
    assert "Since the study of 1 March 2026" in letter
    assert "given in 1 earlier study, mended in none" in letter


def test_the_advice_to_another_trainee_is_not_followed_up(
    commands: Commands, study: Path, home: Path, first: Path
) -> None:
    done = commands(
        "review", str(study), "--out", str(home / "third"), "--set", "identity.examined_at=2026-03-09",
        "--set", "request.trainee=A. Other", "--earlier", str(first), home=home,
    )  # fmt: skip

    assert "earlier advice: The advice of 1 March 2026 is not followed up: it went to another trainee." in done.stdout
