"""The tables of causes: a row that cannot be is refused by name."""

from __future__ import annotations

from pathlib import Path

import pytest

from fanlight.reference.causes import read_cause_limits, read_causes, read_try_words, read_weights
from fanlight.reference.load import load_house
from fanlight.study import House

_GAIN = "cause_weights.by_chance.overall_gain"


def read_all(house: House) -> None:
    read_causes(house)
    read_cause_limits(house)
    read_weights(house)
    read_try_words(house)


@pytest.mark.parametrize(
    ("row", "why"),
    [
        (f"[{_GAIN}]\nlow = 0.04", "overall_gain.low: expected list, found 0.04"),
        (f"[{_GAIN}]\nlow = [0.04, 0.04]", "missed outright must lie below raised, got 0.04 and 0.04"),
        (f"[{_GAIN}]\nlow = [0.04]", "overall_gain.low must be two numbers, how often raised and how often missed"),
        (f"[{_GAIN}]\nlow = [1.0, 0.5]", "must lie above 0 and below 1, got 1.0"),
        ("[causes.causes.contact_dry]\ntelling = ['streaks']", "contact_dry.telling: no criterion streaks"),
        ("[causes.limits]\ntelling_clips = 0", "telling_clips must be a whole number of 1 or more, got 0"),
        ("[causes.limits]\ntry_from = 0.99", "try_from must not lie above console_from"),
        ("[causes.words]\nto_try = ' '", "causes.words.to_try must be a sentence that says the setting is to be tried"),
        ("[causes.causes.gain_low]\nlevel = 'hand'", "gain_low.undone_at_once: only a setting of the console"),
        ("[causes.limits]\nnarrow_below_deg = 200", "narrow_below_deg must lie between 0 and 180 degrees, got 200"),
        ("[causes.limits]\nnarrow_below_deg = 'wide'", "causes.limits.narrow_below_deg: expected int, found 'wide'"),
    ],
)
def test_a_row_that_cannot_be_is_refused_by_name(tmp_path: Path, row: str, why: str) -> None:
    own = tmp_path / "house.toml"
    own.write_text(f"{row}\n", encoding="utf-8")
    with pytest.raises(ValueError, match=why):
        read_all(load_house(own))
