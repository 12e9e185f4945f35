"""A spectrum whose view is named is judged as the flow of the only valve that this view carries."""

from __future__ import annotations

from pathlib import Path

import pytest

from fanlight.intake import Limits, gather, probe_item
from fanlight.reference.load import load_house
from fanlight.review.clip_pass import Known, read_clip
from fanlight.study import FileMarks, Finding, Patient, Refusal, Species, Valve
from tests.desk.test_strips_read import FIVE_CHAMBER, spectrum

DOG = Patient(species=Species.DOG, weight_kg=12.0)
UNKNOWN = "the valve is not known"


def wrong_signal(path: Path, scratch: Path, marks: FileMarks | None) -> Finding:
    item = gather(path, scratch, Limits()).items[0]
    clip = probe_item(item, Limits()).clips[0]
    read = read_clip(item, clip, DOG, load_house(), marks, Known(), Limits(), beat=lambda *_, **__: None)
    assert not isinstance(read, Refusal)
    findings = dict(read.families)["doppler_spectrum_timing"]
    return next(found for found in findings if found.criterion == "spectrum_wrong_signal")


@pytest.mark.parametrize(
    ("marks", "is_known"),
    [
        (None, False),
        (FileMarks(name="IM1.dcm", view=FIVE_CHAMBER), True),  # aortic; the mitral valve has only colour there
        (FileMarks(name="IM1.dcm", view="left_cranial_short_axis"), False),  # tricuspid or pulmonic
        (FileMarks(name="IM1.dcm", valve=Valve.PULMONIC), True),
    ],
)
def test_the_view_tells_the_valve_where_it_carries_one_flow(
    tmp_path: Path, marks: FileMarks | None, is_known: bool
) -> None:
    found = wrong_signal(spectrum(tmp_path / "IM1.dcm"), tmp_path, marks)
    assert (UNKNOWN not in found.reason) is is_known
