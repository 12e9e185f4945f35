"""From where the probe stood to few movements: what is named, in which words, and what becomes of the points beside."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fanlight.coach.causes.corrections import Candidate, choose_corrections
from fanlight.coach.movements.advise import advised
from fanlight.coach.movements.look_for import with_movements
from fanlight.coach.movements.named import Named, named_movements, opposed_movements, others_of
from fanlight.coach.movements.sizes import size_words
from fanlight.reference.causes import read_cause_limits, read_causes
from fanlight.reference.criteria import read_criteria
from fanlight.reference.load import load_house
from fanlight.reference.movements import read_movements
from fanlight.study import (
    Breathing,
    CauseFound,
    CauseLevel,
    ClipStand,
    Correction,
    EitherMovement,
    Explained,
    Finding,
    LandmarksBy,
    Priority,
    ProbeOffset,
    Side,
    Verdict,
    WindowStand,
)
from tests.plane.clips import CHORDAE, FOUR, OUTFLOW, clip
from tests.report.sample import finding

HOUSE = load_house()
TABLES = read_movements(HOUSE)
CRITERIA = read_criteria(HOUSE)


def _offset(movement: str, mean: float, probability: float, unit: str = "deg") -> ProbeOffset:
    plus, minus = (probability, 0.0) if mean > 0 else (0.0, probability)
    return ProbeOffset(
        movement=movement, unit=unit, mean=mean, low=mean - 3, high=mean + 3, limit=3.0, plus_probability=plus,
        minus_probability=minus,
    )  # fmt: skip


def _stand(*offsets: ProbeOffset, pairs: tuple[EitherMovement, ...] = (), view: str = FOUR, number: int = 1,
           none: float = 0.0, silent: str = "") -> WindowStand:  # fmt: skip
    one = ClipStand(
        clip=f"k{number}", view=view, given_by=LandmarksBy.PERSON, n_landmarks=8, offsets=offsets, pairs=pairs,
        none_probability=none, misfit_ratio=0.6, silent=silent,
    )  # fmt: skip
    return WindowStand(
        window="right_parasternal", clips=(one,), place=(), left_out=(), has_settled=True, method="x/1", rests_on="x"
    )


TILT = _offset("tilt", 9.0, 0.97)
PAIR = EitherMovement(
    first="slide", first_sense=1, first_probability=0.7, second="tilt", second_sense=-1, second_probability=0.4,
    probability=0.96,
)  # fmt: skip


def test_a_movement_below_the_houses_probability_is_not_named() -> None:
    assert named_movements([_stand(replace(TILT, plus_probability=0.94))], TABLES) == ()
    assert [item.move for item in named_movements([_stand(TILT)], TABLES)] == [("tilt", 1)]


def test_of_a_view_two_movements_are_named_at_most_the_surest() -> None:
    stand = _stand(TILT, _offset("rock", 12.0, 0.99), _offset("rotate", -15.0, 0.96))

    assert [item.move for item in named_movements([stand], TABLES)] == [("rock", 1), ("tilt", 1)]


def test_an_either_or_counts_for_two_movements() -> None:
    offsets = (_offset("slide", 12.0, 0.7, "mm"), _offset("tilt", -6.0, 0.4), _offset("rock", 12.0, 0.99))
    (named,) = named_movements([_stand(*offsets, pairs=(PAIR,))], TABLES)

    assert named.move == ("rock", 1)


def test_pressure_is_never_named_and_a_silent_clip_names_nothing() -> None:
    assert named_movements([_stand(_offset("press", 9.0, 0.99, "mm"))], TABLES) == ()
    assert named_movements([_stand(TILT, silent="it fits no heart")], TABLES) == ()


def test_of_a_window_in_which_nothing_was_measured_nothing_is_named() -> None:
    assert named_movements([replace(_stand(TILT), window="subcostal")], TABLES) == ()


def test_an_either_or_says_which_to_try_first_and_to_go_back() -> None:
    stand = _stand(_offset("slide", 12.0, 0.7, "mm"), _offset("tilt", -6.0, 0.4), pairs=(PAIR,))
    (said,) = advised(named_movements([stand], TABLES), [clip(FOUR)], TABLES, CRITERIA, Breathing.NORMAL)

    words = said.candidate.correction
    assert words.title.startswith("either probe too far dorsal")
    assert "slide towards the sternum" in words.correction
    assert words.either.startswith("Either of two movements would explain this picture. Try this one first")
    assert "worse: go back and tilt the cable end caudodorsal, 3° to 9°, without" in words.either  # with its size


def test_a_size_is_a_range_and_a_far_one_goes_in_steps() -> None:
    assert size_words([TILT], TABLES.limits) == "6° to 12°, in steps of 10° at most"
    near = replace(TILT, low=3.4, high=7.2)
    assert size_words([near], TABLES.limits) == "3° to 7°"
    spaces = ProbeOffset(
        movement="space", unit="spaces", mean=0.8, low=0.4, high=1.1, limit=0.2, plus_probability=1.0,
        minus_probability=0.0,
    )  # fmt: skip
    assert size_words([spaces], TABLES.limits) == "half a space to one space"


def test_what_a_movement_explains_adds_to_its_weight() -> None:
    named = [Named(clip="k1", view=FOUR, move=("rock", 1), offset=_offset("rock", 12.0, 0.99), probability=0.99)]
    plain = clip(FOUR)
    shown = replace(plain, findings=(_missed("septum_slope", Side.HIGH), _missed("target_centred", Side.LOW)))
    (bare,), (full,) = (advised(named, [item], TABLES, CRITERIA, Breathing.NORMAL) for item in (plain, shown))

    assert full.candidate.weight == CRITERIA["septum_slope"].weight + CRITERIA["target_centred"].weight
    assert full.candidate.weight > bare.candidate.weight > 0
    assert full.candidate.correction.resolves == 2


def _missed(key: str, side: Side) -> Finding:
    return replace(finding("sample_low", 1, Verdict.MISSED, 0.0, side=side), criterion=key, clip="k1")


def test_movements_and_settings_stand_in_one_list_of_three_with_one_of_each_first() -> None:
    found = [_cause("gain_low", ("k1", "k2", "k3")), _cause("depth_large", ("k1", "k2")), _cause("gain_high", ("k1",))]
    light = _candidate("tilt_plus", 1.0)
    heavy = _candidate("rock_plus", 2.0)
    chosen = choose_corrections(
        found, read_causes(HOUSE), read_cause_limits(HOUSE), CRITERIA, Breathing.NORMAL, (light, heavy)
    )

    assert [item.cause for item in chosen] == ["gain_low", "rock_plus", "depth_large"]


def _cause(key: str, clips: tuple[str, ...]) -> CauseFound:
    return CauseFound(
        cause=key, title=key, level=CauseLevel.CONSOLE, probability=0.99, habit=0.0, is_habit=False, clips=clips,
        explains=tuple(Explained(criterion="overall_gain", clip=each) for each in clips),
    )  # fmt: skip


def _candidate(key: str, weight: float) -> Candidate:
    return Candidate(
        correction=Correction(
            cause=key, title=key, level=CauseLevel.HAND, when="", correction="x", right_when="", resolves=0,
            clips=("k1",), is_habit=False,
        ),
        weight=weight, probability=0.99,
    )  # fmt: skip


POINT = Priority(
    criterion="short_axis_level", title="Level", side=Side.LOW, means="m", cause="c", correction="Tilt to the base.",
    clips=("k1",), worst_clip="k1", score=1.0,
)  # fmt: skip


def _points(*stands: WindowStand, point: Priority = POINT, breathing: Breathing = Breathing.NORMAL) -> Priority:
    readings = [replace(clip(CHORDAE), findings=(_missed("short_axis_level", Side.LOW),))]
    named = named_movements(stands, TABLES)
    (said,) = with_movements([point], advised(named, readings, TABLES, CRITERIA, breathing), named, stands, TABLES)
    return said


def test_a_point_whose_movement_is_withheld_says_so_and_nothing_else() -> None:
    stand = _stand(TILT, view=CHORDAE)
    named = _points(stand)
    said = _points(stand, breathing=Breathing.LABOURED)

    assert "tilt the cable end" in named.correction.casefold()
    assert said.correction == ""
    assert "laboured" in said.withheld


def test_a_movement_that_is_named_stands_in_place_of_the_points_own() -> None:
    said = _points(_stand(TILT, view=CHORDAE))

    assert "Tilt to the base." not in said.correction
    assert said.correction.startswith("Tilt the cable end caudoventral, 6° to 12°")
    assert "right when the ventricle is round" in said.correction


def test_a_point_without_a_pose_is_told_as_something_to_look_for() -> None:
    said = _points()

    assert said.correction == f"{TABLES.look_for} Tilt to the base."


def test_where_the_hand_stood_right_it_may_be_the_animal_and_nothing_is_advised() -> None:
    said = _points(_stand(_offset("tilt", 0.5, 0.02), view=CHORDAE, none=0.97))

    assert said.correction == ""
    assert "may be the animal and not the hand" in said.withheld


def test_a_point_of_two_clips_says_what_is_sure_and_what_is_not() -> None:
    said = _points(_stand(TILT, view=CHORDAE), point=replace(POINT, clips=("k1", "k2")))

    assert "In the other clips: Which movement is off cannot be told here." in said.correction


def test_a_point_that_is_none_of_the_hand_keeps_its_words() -> None:
    mirrored = replace(POINT, criterion="picture_mirrored", correction="Flip the picture.")

    assert _points(point=mirrored).correction == "Flip the picture."


def test_a_habit_is_told_for_all_its_views_at_once() -> None:
    stands = [_stand(TILT, view=view, number=n) for n, view in enumerate((FOUR, OUTFLOW, CHORDAE), start=1)]
    readings = [clip(view, number=n) for n, view in enumerate((FOUR, OUTFLOW, CHORDAE), start=1)]
    (said,) = advised(named_movements(stands, TABLES), readings, TABLES, CRITERIA, Breathing.NORMAL)

    assert said.candidate.correction.is_habit
    to_do = said.candidate.correction.correction
    # Cable end and beam go opposite ways: where views differ the beam tells the way, back from where it was too far.
    assert to_do.startswith("tilt the cable end so that the beam goes away from the viewer's side, ")


def _told_of(*views: str, move: ProbeOffset = TILT) -> Correction:
    """Return the words of one movement in clips of these views."""
    stands = [_stand(move, view=view, number=n) for n, view in enumerate(views, start=1)]
    readings = [clip(view, number=n) for n, view in enumerate(views, start=1)]
    titles = {FOUR: "Long axis", CHORDAE: "Short axis"}
    (said,) = advised(named_movements(stands, TABLES), readings, TABLES, CRITERIA, Breathing.NORMAL, titles)
    return said.candidate.correction


def test_of_two_views_that_differ_each_is_named_with_what_it_shows_and_asks_for() -> None:
    """As each says by itself (movements.toml): cable end and picture differ, general words would help nobody."""
    long, short, both = _told_of(FOUR), _told_of(CHORDAE), _told_of(FOUR, CHORDAE)
    ways = [item.correction.removeprefix("tilt the cable end ").split(",")[0] for item in (long, short)]

    assert long.when != short.when
    assert ways[0] != ways[1]
    assert both.when == f"in “Long axis” {long.when}, or in “Short axis” {short.when}"
    assert both.correction.startswith(f"tilt the cable end {ways[0]} in “Long axis” and {ways[1]} in “Short axis”, ")
    assert both.right_when == f"in the first {long.right_when}, and in the second {short.right_when}"


def test_views_that_no_way_has_named_are_named_where_it_is_right() -> None:
    """A turn of the probe goes the same way in both."""
    both = _told_of(FOUR, CHORDAE, move=_offset("rotate", 20.0, 0.98))

    assert "“" not in both.correction
    assert both.right_when.startswith("in “Long axis” ")
    assert ", and in “Short axis” " in both.right_when


def test_of_two_sorts_of_three_views_all_are_named() -> None:
    muscles = CHORDAE.replace("chordae", "papillary_muscles")
    said = _told_of(FOUR, CHORDAE, muscles)

    assert said.when.startswith("in “Long axis” ")
    assert ", or in “Short axis” and “right parasternal short axis papillary muscles” " in said.when
    assert ", and in “Short axis” and “right parasternal short axis papillary muscles” " in said.right_when


def test_views_that_say_the_same_are_not_named() -> None:
    muscles = CHORDAE.replace("chordae", "papillary_muscles")

    assert _told_of(CHORDAE, muscles).when == _told_of(CHORDAE).when
    assert "“" not in _told_of(CHORDAE, muscles).correction


@pytest.mark.parametrize("breathing", list(Breathing))
def test_no_movement_is_advised_while_an_animal_fights_for_air(breathing: Breathing) -> None:
    (said,) = advised(named_movements([_stand(TILT)], TABLES), [clip(FOUR)], TABLES, CRITERIA, breathing)
    correction = said.candidate.correction

    if breathing in (Breathing.LABOURED, Breathing.DISTRESSED):
        assert not correction.correction
        assert not correction.either
        assert str(breathing) in correction.withheld
    else:
        assert correction.correction
        assert not correction.withheld


@pytest.mark.parametrize("breathing", [Breathing.NOT_STATED, Breathing.LABOURED])
def test_another_space_is_taken_only_when_breathing_is_normal(breathing: Breathing) -> None:
    step = ProbeOffset(
        movement="space", unit="spaces", mean=0.8, low=0.4, high=1.1, limit=0.2, plus_probability=0.99,
        minus_probability=0.0,
    )  # fmt: skip
    named = named_movements([_stand(step)], TABLES)
    (held,) = advised(named, [clip(FOUR)], TABLES, CRITERIA, breathing)
    (given,) = advised(named, [clip(FOUR)], TABLES, CRITERIA, Breathing.NORMAL)

    assert held.candidate.correction.correction == ""
    assert held.candidate.correction.withheld
    assert given.candidate.correction.correction.startswith("move the probe towards the tail")


def _sure(sense: int, probability: float, number: int) -> WindowStand:
    return _stand(_offset("tilt", 9.0 * sense, probability), number=number)


@pytest.mark.parametrize(
    ("plus", "minus", "kept"), [(0.96, 0.97, 0), (0.96, 0.999, -1), (0.9999, 0.96, 1)]
)  # fmt: skip
def test_of_opposite_movements_in_one_view_only_a_much_surer_one_is_named(plus: float, minus: float, kept: int) -> None:
    stands = (_sure(1, plus, 1), _sure(-1, minus, 2))
    (opposed,) = opposed_movements(stands, TABLES)

    assert [item.move for item in named_movements(stands, TABLES)] == ([("tilt", kept)] if kept else [])
    assert (opposed.movement, opposed.plus_clips, opposed.minus_clips, opposed.kept) == ("tilt", ("k1",), ("k2",), kept)


@pytest.mark.parametrize(("minus", "kept"), [(0.97, []), (0.9999, [("rock", -1)])])
def test_the_others_of_what_is_kept_in_one_view_are_never_opposite(minus: float, kept: list[tuple[str, int]]) -> None:
    """A mentor may keep the other of an either-or in each of its clips: they are held to the rule before."""

    def either(number: int, sense: int, probability: float) -> WindowStand:
        pair = EitherMovement(
            first="slide" if sense > 0 else "tilt", first_sense=1, first_probability=0.7, second="rock",
            second_sense=sense, second_probability=0.4, probability=probability,
        )  # fmt: skip
        first = _offset(pair.first, 12.0, 0.7, "mm" if sense > 0 else "deg")
        return _stand(first, _offset("rock", 12.0 * sense, 0.4), pairs=(pair,), number=number)

    named = named_movements([either(1, 1, 0.96), either(2, -1, minus)], TABLES)
    assert [item.move for item in others_of(named)] == kept


def test_opposite_movements_of_two_views_are_both_named() -> None:
    stands = (_sure(1, 0.97, 1), _stand(_offset("tilt", -9.0, 0.97), number=2, view=OUTFLOW))

    assert len(named_movements(stands, TABLES)) == 2
    assert opposed_movements(stands, TABLES) == ()


def test_the_place_of_all_clips_together_counts_only_while_none_of_them_is_silent() -> None:
    views = (FOUR, OUTFLOW, CHORDAE)
    clips = tuple(_stand(_offset("tilt", 0.5, 0.02), view=view, number=n).clips[0] for n, view in enumerate(views, 1))
    place = (_offset("slide", 12.0, 0.99, "mm"),)
    heard = replace(_stand(), clips=clips, place=place)
    doubted = replace(heard, clips=(*clips[:2], replace(clips[2], silent="it fits no heart")))

    assert {item.move for item in named_movements([heard], TABLES)} == {("slide", 1)}
    assert named_movements([doubted], TABLES) == ()


def test_a_silent_clip_gets_no_words_to_look_for() -> None:
    silent = "it fits no heart that is known; it may be the animal and not the hand, and no movement is advised"
    said = _points(_stand(TILT, view=CHORDAE, silent=silent))

    assert said.correction == ""
    assert said.withheld == f"Nothing is advised of this plane: {silent}."


def test_of_a_silent_clip_among_others_the_reason_stands_beside_what_is_looked_for() -> None:
    said = _points(_stand(TILT, view=CHORDAE, silent="a reason"), point=replace(POINT, clips=("k1", "k2")))

    assert said.correction == f"Where no pose is told: {TABLES.look_for} Tilt to the base."
    assert said.withheld == "Nothing is advised of this plane: a reason."


@pytest.mark.parametrize(
    ("criterion", "side", "clips", "is_held"),
    [
        ("short_axis_level", Side.HIGH, ("k1",), True),  # the other side of the same
        ("short_axis_level", Side.HIGH, ("k2",), False),  # clips of which nobody knows that they are of one view
        ("septum_slope", Side.LOW, ("k1",), False),
    ],
)
def test_points_that_ask_for_opposite_movements_in_one_view_advise_none(
    criterion: str, side: Side, clips: tuple[str, ...], is_held: bool
) -> None:
    other = replace(POINT, criterion=criterion, side=side, clips=clips, correction="The other way.")
    said = with_movements([POINT, other], (), (), (), TABLES)

    assert [item.withheld == TABLES.opposite for item in said] == [is_held, is_held]
    assert [item.correction == "" for item in said] == [is_held, is_held]


def test_rocking_one_way_for_the_septum_and_the_other_for_the_middle_is_opposite() -> None:
    slope = replace(POINT, criterion="septum_slope", side=Side.LOW, correction="Rock towards the marker.")
    middle = replace(POINT, criterion="target_centred", side=Side.LOW, correction="Rock away from the marker.")
    of_two_clips = (slope, replace(middle, clips=("k2",)))
    stands = [_stand(_offset("tilt", 0.5, 0.02), view=CHORDAE, number=n) for n in (1, 2)]

    assert {item.correction for item in with_movements((slope, middle), (), (), (), TABLES)} == {""}
    assert {item.correction for item in with_movements(of_two_clips, (), (), stands, TABLES)} == {""}
