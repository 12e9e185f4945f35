"""Ring D: what is proposed for real files, against answers written down before this code was run on them.

The files hold people, phantoms, other organs and probes in air, and no dog or cat. None of the standard views may be
proposed for them: what shows a human heart is too dark or too turned for a person to name a neighbouring view surely
(tests/real/expected.toml calls every view not known). Nothing was tuned on them.
"""

from pathlib import Path

import pytest

from fanlight.reference.load import load_house
from fanlight.study import ViewSource
from tests.real.real_files import NAMES, read_real

HEARTS = {"ultrasound-multiframe.dcm", "examples_ybr_color.dcm"}  # of people, by eye


def test_the_list_holds_hearts_and_others() -> None:
    assert set(NAMES) >= HEARTS
    assert len(NAMES) > len(HEARTS)


@pytest.mark.parametrize("name", NAMES)
def test_no_view_of_a_dog_is_proposed_for_what_shows_none(name: str, tmp_path: Path) -> None:
    _, proposed = read_real(name, load_house(), tmp_path)
    assert (proposed.view, proposed.source) == ("", ViewSource.NOT_KNOWN), proposed
