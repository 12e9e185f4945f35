"""A report that Fanlight wrote comes back among the files: its numbers are not taken for the machine's."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pydicom
import pytest

from fanlight.intake import Limits, Probed, probe_item
from fanlight.intake.own_report import without_own_numbers
from fanlight.reference.load import load_house
from fanlight.report.dicom.write import write_report
from fanlight.review.file_tasks import probe_file
from tests.intake import dicom_files as make
from tests.report import dicom_sample as sample


def probed(path: Path) -> Probed:
    """What a review learns of a file, in this process."""

    def beat(*_: Any, **__: Any) -> None:
        """Nobody listens."""

    return probe_file(make.item_of(path), Limits(), beat=beat)


@pytest.fixture(scope="module")
def ours(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_report(
        sample.review(), load_house(), sample.origins(), tmp_path_factory.mktemp("ours"), sample.WRITTEN
    )


def test_our_numbers_are_left_out_and_the_file_is_named(ours: Path) -> None:
    found = probed(ours)

    assert (found.measurements, found.clips, found.refused) == ((), (), ())
    assert found.notes == (
        "fanlight-report.dcm: a report that Fanlight wrote; its numbers are not the machine's and were not used",
    )


def test_the_same_report_by_a_machine_is_read_with_the_same_numbers(ours: Path, tmp_path: Path) -> None:
    """Another maker's name: intake reads the quantities, values, units and modes that were written."""
    data = pydicom.dcmread(ours)
    data.Manufacturer = "Invented Ultrasound"
    data.save_as(tmp_path / "machine.dcm")
    read = {item.quantity: item for item in probed(tmp_path / "machine.dcm").measurements if item.quantity}

    assert {key: (item.value, item.unit, item.method) for key, item in read.items()} == {
        "lvidd": (3.6, "cm", "M-mode"),
        "la_ao": (1.7, "{ratio}", "2-D"),
        "mitral_e": (0.8125, "m/s", "PW"),
        "tr_vmax": (3.125, "m/s", "PW"),
    }


def test_a_machines_report_and_pictures_stay_as_they_are(tmp_path: Path) -> None:
    """pydicom's own report and picture: what a review learns of them is what `intake` found."""
    for name in ("test-SR.dcm", "examples_ybr_color.dcm"):
        path = tmp_path / name
        shutil.copy(make.pydicom_file(name), path)

        assert probed(path) == probe_item(make.item_of(path), Limits())


def test_a_report_that_is_gone_meanwhile_changes_nothing(ours: Path, tmp_path: Path) -> None:
    path = tmp_path / "a.dcm"
    shutil.copy(ours, path)
    item, found = make.item_of(path), probe_item(make.item_of(path), Limits())
    path.unlink()

    assert without_own_numbers(item, found, Limits()) == found
