"""Of several clips the one that holds best gives a number; of a jet the one with the highest velocity."""

from __future__ import annotations

from dataclasses import replace

from fanlight.measure.marked import GIVEN_BY
from fanlight.reference.load import load_house
from fanlight.study import ENGINE, Measurement
from fanlight.validity.meaning.inputs import pick, told_of
from fanlight.validity.ranked import rank_clips
from tests.report.sample import sample_review

NUMBERS = {"a.dcm": 1, "b.dcm": 2, "c.dcm": 3}
HOUSE = load_house()


def lvidd(clip: str, value: float | None, validity: str = "holds", **changes: object) -> Measurement:
    made = Measurement(
        name="lvidd", label="LVIDd", value=value, unit="mm", uncertainty=1.0, clip=clip, given_by=ENGINE,
        validity=validity,
    )  # fmt: skip
    return replace(made, **changes)  # type: ignore[arg-type]


def ranks(*items: Measurement) -> list[int]:
    return [item.rank for item in rank_clips(items, NUMBERS)]


def test_a_number_that_one_clip_gives_is_not_ranked() -> None:
    one, report = lvidd("a.dcm", 30.0), lvidd("", 31.0, given_by="machine report")
    assert rank_clips((one, lvidd("b.dcm", None), report), NUMBERS) == (one, lvidd("b.dcm", None), report)


def test_what_holds_goes_before_what_is_doubted_and_that_before_a_bound() -> None:
    bound, doubted, holds = (
        lvidd("a.dcm", 28.0, "at least: the plane is oblique"), lvidd("b.dcm", 31.0, "note: one; two"),
        lvidd("c.dcm", 30.0),
    )  # fmt: skip
    assert ranks(bound, doubted, holds) == [3, 2, 1]
    assert ranks(lvidd("a.dcm", 31.0, "note: one; two"), lvidd("b.dcm", 30.0, "note: one")) == [2, 1]


def test_of_two_alike_the_surer_goes_first_and_then_the_earlier() -> None:
    assert ranks(lvidd("a.dcm", 30.0, uncertainty=2.0), lvidd("b.dcm", 30.0, uncertainty=1.0)) == [2, 1]
    assert ranks(lvidd("b.dcm", 30.0), lvidd("a.dcm", 30.0)) == [2, 1]


def test_the_spread_stands_beside_the_number() -> None:
    best, other = rank_clips((lvidd("c.dcm", 30.0), lvidd("a.dcm", 34.0, "note: one")), NUMBERS)
    assert best.beside == "of 2 clips clip 3, the one that holds best; beside it clip 1: 34.0 mm"
    assert other.beside == "clip 3 gives this number: it is the one that holds best"


def test_conventions_and_givers_are_never_mixed() -> None:
    inner = lvidd("a.dcm", 30.0, label="LVIDd, inner edge")
    assert ranks(inner, lvidd("b.dcm", 30.0)) == [0, 0]
    assert ranks(lvidd("a.dcm", 30.0, given_by=GIVEN_BY), lvidd("b.dcm", 30.0)) == [0, 0]


def test_the_highest_jet_counts_whatever_was_noted() -> None:
    """Common practice, no source: of a leak's jet the highest whole envelope of all windows is taken."""
    slow = lvidd("a.dcm", -2.6, name="tr_vmax", unit="m/s", label="TR Vmax")
    fast = lvidd("b.dcm", -3.4, "note: one", name="tr_vmax", unit="m/s", label="TR Vmax")
    assert ranks(slow, fast) == [2, 1]
    calm = [
        lvidd(clip, v, name="aortic_vmax", unit="m/s", uncertainty=0.05 * abs(v))
        for clip, v in (("a.dcm", -1.2), ("b.dcm", -1.4))
    ]
    assert ranks(*calm) == [1, 2]  # no jet: both hold alike, the first is used
    stenotic = [replace(item, value=3 * (item.value or 0.0)) for item in calm]
    assert ranks(*stenotic) == [2, 1]  # BOXERAS2006: from 2 m/s on the highest


def test_gradings_use_the_best_clip_and_average_within_it() -> None:
    poor = lvidd("a.dcm", 34.0, "note: one")
    good = (lvidd("b.dcm", 30.0, frames=(3,)), lvidd("b.dcm", 31.0, frames=(40,)))
    ranked = rank_clips((poor, *good), NUMBERS)
    used = pick(told_of(sample_review().study, HOUSE, ranked), "lvidd", "mm")

    assert [item.rank for item in ranked] == [2, 1, 1]
    assert used is not None
    assert used.value == 30.5
