"""`fanlight deidentify`: teaching copies."""

from __future__ import annotations

from pathlib import Path

import pydicom
from pydicom.data import get_testdata_file

from tests.cli.sealed import Commands


def test_teaching_copies_hold_no_name_and_list_what_went(commands: Commands, home: Path, tmp_path: Path) -> None:
    data = pydicom.dcmread(str(get_testdata_file("examples_rgb_color.dcm")))
    data.PatientName = "Zebedee^Quillfeather"
    (tmp_path / "in").mkdir()
    data.save_as(tmp_path / "in" / "Zebedee.dcm")

    done = commands("deidentify", str(tmp_path / "in"), "--out", str(tmp_path / "out"), home=home)

    assert done.returncode == 0, done.stderr
    assert "InstitutionName (0008,0080)" in done.stdout
    for file in (tmp_path / "out").rglob("*"):
        assert "Zebedee" not in file.name
        assert file.is_dir() or b"Zebedee" not in file.read_bytes()
    assert "Zebedee" not in done.stdout + done.stderr
