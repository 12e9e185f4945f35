"""The command line as its users meet it; the whole review runs with every internet socket refused by the kernel."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import jsonschema
import pydicom
import pytest
from PIL import Image
from pydicom.data import get_testdata_file

ROOT = Path(__file__).resolve().parent.parent
SEALED = """
import sys
from tests import no_network
no_network.forbid_sockets_in_kernel()
from fanlight.cli import main
sys.argv = ["fanlight", *sys.argv[1:]]
main()
"""


def fanlight(*arguments: str, home: Path) -> subprocess.CompletedProcess[str]:
    """Run the command with a cache and data folder of its own, and no way onto the network."""
    environment = dict(os.environ) | {"FANLIGHT_CACHE": str(home / "cache"), "FANLIGHT_DATA": str(home / "data")}
    return subprocess.run(
        [sys.executable, "-c", SEALED, *arguments],
        cwd=ROOT, env=environment, capture_output=True, text=True, check=False, timeout=300,
    )  # fmt: skip


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("home")


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = tmp_path_factory.mktemp("study")
    shutil.copy(str(get_testdata_file("examples_ybr_color.dcm")), root / "clip.dcm")
    (root / "request.toml").write_text(
        '[animal]\nspecies = "dog"\nbreed = "Mixed breed"\nweight_kg = 8.0\nage_years = 7\n'
        '[identity]\nanimal_name = "Juniper"\n'
        '[request]\nquestion = "murmur"\nbreathing = "laboured"\n'
        '[[measurement]]\nquantity = "LVIDd"\nvalue = 3.6\nunit = "cm"\nmethod = "M-mode"\n'
    )
    return root


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


def test_a_marks_file_is_measured_and_a_bad_mark_in_it_named(study: Path, home: Path) -> None:
    """Where the file's own regions give the scale, it holds; ± is the error of a hand (docs/marks-file.md)."""
    marks, out = home / "marks.toml", home / "marked"
    marks.write_text(MARKS)

    done = fanlight("review", str(study), "--marks", str(marks), "--out", str(out), home=home)

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


def test_what_the_mentor_names_is_graded_and_earlier_numbers_compared(study: Path, home: Path) -> None:
    """Worked row C04: 3.6 cm at 8 kg; 9.3 % (ACVIM2018C10) times 2.77 of 3.55 cm is 9.2 mm: no change."""
    marks, out = home / "named.toml", home / "named"
    marks.write_text(NAMED)

    done = fanlight(
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


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[animal]\nspecies = 'dog'\n", "holds no marks"),
        ("[[mark]\n", "expected a request sheet in TOML"),
        ("[named]\nfailure = 3\n", "named.failure: expected"),
    ],
)
def test_a_marks_file_without_marks_is_told(study: Path, home: Path, text: str, words: str) -> None:
    marks = home / "none.toml"
    marks.write_text(text)

    done = fanlight("review", str(study), "--marks", str(marks), home=home)

    assert done.returncode == 5
    assert words in " ".join(done.stderr.split())


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


def test_check_says_what_to_scan_again_without_numbers(study: Path, home: Path) -> None:
    done = fanlight("check", str(study), "--json", home=home)
    found = json.loads(done.stdout)

    assert done.returncode == 0, done.stderr
    assert "breathing is laboured" in found["first_line"]
    assert len(found["retakes"]) <= 5
    assert not any(ch.isdigit() for item in found["retakes"] for ch in item["words"])
    asked_of_clips = [item for item in found["retakes"] if item["criterion"]]
    assert asked_of_clips
    assert all((item["change"] is None) is bool(item["no_change"]) for item in asked_of_clips)


def test_check_takes_a_marks_file_as_a_review_does(study: Path, home: Path) -> None:
    """What is named no scan is not scanned again; a bad mark of the file is named, and changes the exit code."""
    marks = home / "named.toml"
    marks.write_text('[[file]]\nname = "clip.dcm"\nmode = "not_echo"\n' + MARKS)

    plain = fanlight("check", str(study), "--json", home=home)
    named = fanlight("check", str(study), "--marks", str(marks), "--json", home=home)

    assert named.returncode == 3
    assert "named.toml, line 19, mark 2.kind: expected one of" in " ".join(named.stderr.split())
    of_clips = [[item for item in json.loads(done.stdout)["retakes"] if item["criterion"]] for done in (plain, named)]
    assert of_clips[0]
    assert of_clips[1] == []


def test_check_on_a_distressed_animal_says_stop_first(study: Path, home: Path) -> None:
    done = fanlight("check", str(study), "--breathing", "distressed", home=home)

    assert done.stdout.startswith("Stop: the request sheet says that the animal is distressed. The scan can wait;")


def test_refused_files_are_named_and_change_the_exit_code(study: Path, home: Path, tmp_path: Path) -> None:
    shutil.copytree(study, tmp_path / "s")
    shutil.copy(str(get_testdata_file("CT_small.dcm")), tmp_path / "s" / "thorax.dcm")

    done = fanlight("check", str(tmp_path / "s"), "--quiet", home=home)

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
def test_a_house_file_that_cannot_be_used_says_where(text: str, said: str, home: Path, tmp_path: Path) -> None:
    (tmp_path / "house.toml").write_text(text)

    done = fanlight("review", str(tmp_path), "--house", str(tmp_path / "house.toml"), home=home)

    assert done.returncode == 5
    assert said in done.stderr


def test_a_request_that_cannot_be_used_says_why(study: Path, home: Path) -> None:
    done = fanlight("review", str(study), "--weight-kg", "4200", home=home)

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
    arguments: list[str], said: str, study: Path, home: Path
) -> None:
    done = fanlight("review", str(study), *arguments, home=home)

    assert done.returncode == 5, done.stderr
    assert said in done.stderr


def test_any_field_of_the_request_and_any_measurement_can_be_given(study: Path, home: Path, tmp_path: Path) -> None:
    done = fanlight(
        "review", str(study), "--out", str(tmp_path), "--set", "request.signs=coughs at night",
        "--set", 'request.named_diseases=["myxomatous mitral valve disease"]',
        "--measurement", "LA:Ao=1.9, 2-D", home=home,
    )  # fmt: skip
    review = json.loads((tmp_path / "review.json").read_text())

    assert done.returncode == 0, done.stderr
    assert review["study"]["request"]["signs"] == "coughs at night"
    assert {"la_ao", "lvidd"} <= {item["name"] for item in review["measurements"]}


def test_the_numbers_are_written_as_a_structured_report_and_not_read_back(home: Path, tmp_path: Path) -> None:
    """In the study of the picture, with its number; laid among the files, it brings no number of the machine."""
    files, out = tmp_path / "files", tmp_path / "out"
    files.mkdir()
    shutil.copy(str(get_testdata_file("examples_ybr_color.dcm")), files / "clip.dcm")
    typed = ("--measurement", "EPSS=7 mm", "--no-cache")
    first = fanlight("review", str(files), "--out", str(out), "--dicom-report", *typed, home=home)
    report = pydicom.dcmread(out / "fanlight-report.dcm")
    picture = pydicom.dcmread(files / "clip.dcm", stop_before_pixels=True)

    assert first.returncode == 0, first.stderr
    assert "fanlight-report.dcm" in first.stdout
    assert report.StudyInstanceUID == picture.StudyInstanceUID
    assert (report.PatientID, report.PatientName) == (picture.PatientID, picture.PatientName)
    assert str(picture.PatientName) not in first.stderr

    shutil.copy(out / "fanlight-report.dcm", files)
    second = fanlight("review", str(files), "--out", str(tmp_path / "second"), "--json", home=home)
    found = json.loads(second.stdout)

    assert found["study"]["machine_measurements"] == []
    assert any("a report that Fanlight wrote" in note for note in found["study"]["notes"])


def test_files_that_disagree_about_the_animal_give_no_report(study: Path, home: Path, tmp_path: Path) -> None:
    """The request sheet names Juniper, the picture somebody else: no number goes into an archive under that name."""
    done = fanlight("review", str(study), "--out", str(tmp_path / "out"), "--dicom-report", home=home)

    assert done.returncode == 3
    assert "the files do not agree about the animal or the day" in done.stderr
    assert not (tmp_path / "out" / "fanlight-report.dcm").exists()


def test_plain_pictures_give_no_structured_report_and_the_reason(home: Path, tmp_path: Path) -> None:
    Image.new("L", (64, 48), 90).save(tmp_path / "still.png")
    out = tmp_path / "out"
    done = fanlight("review", str(tmp_path / "still.png"), "--out", str(out), "--dicom-report", home=home)

    assert done.returncode == 3
    assert "no picture has an identity in DICOM" in done.stderr
    assert "Ask the practice for the DICOM export" in done.stderr
    assert (out / "letter.pdf").exists()
    assert not (out / "fanlight-report.dcm").exists()


def test_teaching_copies_hold_no_name_and_list_what_went(home: Path, tmp_path: Path) -> None:
    data = pydicom.dcmread(str(get_testdata_file("examples_rgb_color.dcm")))
    data.PatientName = "Zebedee^Quillfeather"
    (tmp_path / "in").mkdir()
    data.save_as(tmp_path / "in" / "Zebedee.dcm")

    done = fanlight("deidentify", str(tmp_path / "in"), "--out", str(tmp_path / "out"), home=home)

    assert done.returncode == 0, done.stderr
    assert "InstitutionName (0008,0080)" in done.stdout
    for file in (tmp_path / "out").rglob("*"):
        assert "Zebedee" not in file.name
        assert file.is_dir() or b"Zebedee" not in file.read_bytes()
    assert "Zebedee" not in done.stdout + done.stderr


def test_forget_empties_the_cache(
    reviewed: tuple[subprocess.CompletedProcess[str], Path], home: Path, tmp_path: Path
) -> None:
    shutil.copytree(home / "cache", tmp_path / "cache")

    first = fanlight("forget", home=tmp_path)
    second = fanlight("forget", home=tmp_path)

    assert int(first.stdout.split()[0]) > 0
    assert int(second.stdout.split()[0]) == 0


def test_help_names_the_exit_codes(home: Path) -> None:
    assert "Exit codes" in fanlight("--help", home=home).stdout


@pytest.fixture(scope="module")
def first(study: Path, home: Path) -> Path:
    """Return the review.json of an earlier study of T. Okafor."""
    done = fanlight(
        "review", str(study), "--out", str(home / "first"), "--set", "identity.examined_at=2026-03-01",
        "--set", "request.trainee=T. Okafor", "--quiet", home=home,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return home / "first" / "review.json"


def test_a_later_study_of_the_trainee_says_what_became_of_the_advice(study: Path, home: Path, first: Path) -> None:
    """The same clip again: what was advised is still there, and what is advised again carries its record."""
    second = home / "second"
    again = fanlight(
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


def test_the_advice_to_another_trainee_is_not_followed_up(study: Path, home: Path, first: Path) -> None:
    done = fanlight(
        "review", str(study), "--out", str(home / "third"), "--set", "identity.examined_at=2026-03-09",
        "--set", "request.trainee=A. Other", "--earlier", str(first), home=home,
    )  # fmt: skip

    assert "earlier advice: The advice of 1 March 2026 is not followed up: it went to another trainee." in done.stdout
