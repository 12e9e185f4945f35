"""The plane criteria of all clips of a study: asked where findings are joined, from kept readings alone."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace

from fanlight.plane import centre, length, level, rounds, shares, sides, slope
from fanlight.plane.confidence import confidence_of
from fanlight.plane.places import Grid, mirrored, moments_of
from fanlight.plane.sight import Sight
from fanlight.plane.told import NAME, STAGE, TICK, Told, finding
from fanlight.reference.criteria import read_family
from fanlight.reference.plane import PlaneTables, Tick, read_plane_tables
from fanlight.reference.views import read_views
from fanlight.study import ClipReading, Criterion, FileMarks, Finding, House, Mode, Side, Verdict

ASKED_MODES = (Mode.TWO_D, Mode.COLOUR)
MIRRORED = "picture_mirrored"
ASKED: dict[str, Callable[[Sight], Told | str | None]] = {
    "septum_slope": slope.slope_across,
    "apical_axis_tilt": slope.slope_down,
    "target_centred": centre.centred,
    "apex_shown": length.apex_shown,
    "ventricle_length": length.foreshortened,
    "papillary_in_long_axis": shares.papillary,
    "aorta_shown": shares.aorta_shown,
    "aorta_unwanted": shares.aorta_unwanted,
    "cusps_even": rounds.cusps_even,
    "ventricle_round": rounds.ventricle_round,
    "aorta_round": rounds.aorta_round,
    "papillary_even": rounds.papillary_even,
    "short_axis_level": level.level,
    "level_mixed": level.mixed,
    "window_of_label": sides.window_of_label,
}
PLANE_CRITERIA = (*ASKED, MIRRORED)
NO_MARKS: Mapping[str, FileMarks] = {}
Shown = Mapping[str, bool]  # what a mentor ticked of one clip: item of its view's lists, is it shown
NO_TICKS: Mapping[str, Shown] = {}


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaneRules:
    """What the House says of planes."""

    criteria: Mapping[str, Criterion]
    tables: PlaneTables
    titles: Mapping[str, str]
    windows: Mapping[str, str]
    lacking: Mapping[str, frozenset[str]]  # by view: items that must be shown
    house: str  # fingerprint of the rows


def read_plane_rules(house: House) -> PlaneRules:
    """Return the tables that the plane criteria rest on."""
    views = read_views(house)
    return PlaneRules(
        criteria=read_family(house, NAME),
        tables=read_plane_tables(house),
        titles={key: view.title for key, view in views.items()},
        windows={key: view.window for key, view in views.items()},
        lacking={key: frozenset(view.must_show) for key, view in views.items()},
        house=house.fingerprint((f"criteria/{NAME}", NAME, "plane_standard", "views")),
    )


def is_of_plane(item: Finding) -> bool:
    """Whether a finding is one of the plane criteria."""
    return item.source.stage == STAGE


def with_planes(
    readings: tuple[ClipReading, ...],
    rules: PlaneRules,
    marks: Mapping[str, FileMarks] = NO_MARKS,
    ticks: Mapping[str, Shown] = NO_TICKS,
) -> tuple[ClipReading, ...]:
    """Return the readings of a study with the findings on their planes; earlier ones on them are replaced.

    Parameters
    ----------
    readings : tuple of ClipReading
        Of the whole study: views are held against each other.
    rules : PlaneRules
        Of the House.
    marks : mapping of str to FileMarks
        What a person drew, by the key of the clip; it counts before what the network saw.
    ticks : mapping of str to mapping of str to bool
        What a mentor ticked, by the key of the clip and the item of the view's lists.

    Notes
    -----
    Only 2-D and colour clips are asked. A clip whose view is not known has one finding that says so. Where a mirrored
    picture is told, the other criteria are asked of it the right way round.
    """
    sights = {item.clip.key: _sight(item, rules, marks.get(item.clip.key)) for item in readings}
    found = tuple(item for item in sights.values() if item is not None)
    longest = length.longest_in(found)
    done = []
    for item in readings:
        sight = sights[item.clip.key]
        told: Iterable[Finding] = ()
        if sight is not None:
            whole = replace(sight, longest=longest)
            told = _findings(whole, rules, ticks.get(item.clip.key, {}))
        elif item.mode.mode in ASKED_MODES:
            told = (_unknown(item, rules),)
        done.append(replace(item, findings=(*(each for each in item.findings if not is_of_plane(each)), *told)))
    return tuple(done)


def _sight(item: ClipReading, rules: PlaneRules, marks: FileMarks | None) -> Sight | None:
    grid, asked = Grid.of(item.layout), rules.tables.views.get(item.view.view)
    if item.mode.mode not in ASKED_MODES or grid is None or asked is None:
        return None
    drawn = () if marks is None else marks.drawn
    sight = Sight(
        reading=item, grid=grid, moments=moments_of(item, drawn, grid, rules.tables.settings), drawn=drawn, asked=asked,
        tables=rules.tables, titles=rules.titles, windows=rules.windows, longest={},
    )  # fmt: skip
    return sight


def _unknown(item: ClipReading, rules: PlaneRules) -> Finding:
    why = "the view is not known, and with it what its plane must show"
    if Grid.of(item.layout) is None:
        why = f"the picture was not found on the screen: {item.layout.picture_reason}"
    return finding(rules.criteria["target_centred"], item.clip.key, why, confidence=0.0, spreads=1.0, house=rules.house)


def _findings(sight: Sight, rules: PlaneRules, ticks: Shown) -> tuple[Finding, ...]:
    ticked = _ticked(sight, rules, ticks)
    round_way = _one(MIRRORED, sides.right_way_round(sight), sight, rules, ticked)
    if round_way is not None and round_way.verdict is Verdict.MISSED:
        sight = replace(sight, moments=mirrored(sight.moments))
    told = (_one(key, ask(sight), sight, rules, ticked) for key, ask in ASKED.items())
    return tuple(item for item in (*told, round_way) if item is not None)


def _one(
    key: str, told: Told | str | None, sight: Sight, rules: PlaneRules, ticked: Mapping[str, tuple[str, Tick]]
) -> Finding | None:
    if told is None and key not in ticked:
        return None
    if key in ticked:
        item, tick = ticked[key]
        beside = f"; {told.words} ({told.by})" if isinstance(told, Told) else ""
        told = Told(value=tick.value, spread=0.0, words=f"“{item}”{beside}", by=TICK, side=Side(tick.side))
    assert told is not None
    return finding(
        rules.criteria[key], sight.reading.clip.key, told, confidence=confidence_of(key, sight.reading, told),
        spreads=rules.tables.settings.spreads, house=rules.house,
    )  # fmt: skip


def _ticked(sight: Sight, rules: PlaneRules, ticks: Shown) -> dict[str, tuple[str, Tick]]:
    """Return, by criterion, the first item that a mentor ticked as lacking or unwanted."""
    must = rules.lacking[sight.asked.view]
    found: dict[str, tuple[str, Tick]] = {}
    for item, tick in sight.asked.ticks.items():
        is_shown = ticks.get(item)
        if is_shown is not None and is_shown != (item in must):
            found.setdefault(tick.criterion, (f"{item}: {'shown' if is_shown else 'not shown'}", tick))
    return found
