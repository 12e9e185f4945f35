"""Ring D: what is proposed for real files, against answers written down before this code was run on them.

The files hold people, phantoms, other organs and probes in air, and no dog or cat. None of the standard views may be
proposed for them: what shows a human heart is too dark or too turned for a person to name a neighbouring view surely
(tests/real/expected.toml calls every view not known). Nothing was tuned on them.
"""

import tomllib
from importlib import resources
from pathlib import Path

import pytest

from fanlight.critique.every_family import EVERY_FAMILY
from fanlight.intake import Limits, gather, probe_item
from fanlight.recognise.picture_reading import with_proposal
from fanlight.reference.chambers import read_chambers
from fanlight.reference.load import load_house
from fanlight.reference.recognition import read_recognition_limits
from fanlight.reference.views import read_views
from fanlight.review.clip_pass import ClipPass, Known, read_clip
from fanlight.study import ViewSource

EXPECTED = tomllib.loads((Path(__file__).parents[1] / "real" / "expected.toml").read_text("utf-8"))
NAMES = [name for name, entry in EXPECTED.items() if entry.get("accepted")]
HEARTS = {"ultrasound-multiframe.dcm", "examples_ybr_color.dcm"}  # of people, by eye
NO_CRITERIA = Known(families=tuple(family.name for family in EVERY_FAMILY))


def test_the_list_holds_hearts_and_others() -> None:
    assert set(NAMES) >= HEARTS
    assert len(NAMES) > len(HEARTS)


@pytest.mark.parametrize("name", NAMES)
def test_no_view_of_a_dog_is_proposed_for_what_shows_none(name: str, tmp_path: Path) -> None:
    house, limits, entry = load_house(), Limits(), EXPECTED[name]
    with resources.as_file(resources.files(entry["package"]) / entry["path"]) as file:
        item = gather(file, tmp_path, limits).items[0]
        clip = probe_item(item, limits).clips[0]
        read = read_clip(item, clip, clip.patient, house, None, NO_CRITERIA, limits, beat=lambda *_, **__: None)
    assert isinstance(read, ClipPass)

    titles = {key: view.title for key, view in read_views(house).items()}
    proposed = with_proposal(read.view, read.picture, read_recognition_limits(house), titles, read_chambers(house))
    assert (proposed.view, proposed.source) == ("", ViewSource.NOT_KNOWN), proposed
