"""Standard views, and which of them a text or a code names."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from fanlight.reference.wording import find_phrases
from fanlight.study import Basis, House, Rung, Valve

VIEW_CODE_GROUP = "12226"  # Echocardiography Image View, DICOM PS3.16


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """One standard view, as the House describes it."""

    key: str
    title: str
    window: str
    axis: str  # "long", "short", "apical", "subcostal"
    levels: tuple[str, ...]  # the first is its own; the others are words that some use for it
    must_show: tuple[str, ...]
    must_not_show: tuple[str, ...]
    measurements: tuple[str, ...]  # quantity keys
    doppler: tuple[str, ...]
    phase: tuple[str, ...]
    serves: tuple[tuple[Valve, tuple[Rung, ...]], ...]
    by_valve: Valve | None
    source: str
    basis: Basis

    def valves_at(self, rung: Rung) -> tuple[Valve, ...]:
        """Return the valves whose rung this view can carry."""
        return tuple(valve for valve, rungs in self.serves if rung in rungs)


@dataclass(frozen=True, slots=True, kw_only=True)
class ViewMatch:
    """The view that a text or code names, or the reason why none is taken."""

    view: str = ""
    valve: Valve | None = None
    reason: str = ""


def _view(key: str, row: Any) -> View:
    return View(
        key=key,
        title=row["title"],
        window=row["window"],
        axis=row["axis"],
        levels=tuple(row["levels"]),
        must_show=tuple(row["must_show"]),
        must_not_show=tuple(row["must_not_show"]),
        measurements=tuple(row["measurements"]),
        doppler=tuple(row["doppler"]),
        phase=tuple(row["phase"]),
        serves=tuple((Valve(valve), tuple(Rung(rung) for rung in rungs)) for valve, rungs in row["serves"].items()),
        by_valve=Valve(row["by_valve"]) if row["by_valve"] else None,
        source=row["source"],
        basis=Basis(row["basis"]),
    )


def read_views(house: House) -> dict[str, View]:
    """Return all views by key, in the order of the table.

    Raises
    ------
    ValueError
        Naming the row that is incomplete.
    """
    return dict(house.kept("views", _all_views))


def _all_views(house: House) -> dict[str, View]:
    views: dict[str, View] = {}
    for key, row in house.table("views")["views"].items():
        try:
            views[key] = _view(key, row)
        except KeyError as error:
            raise ValueError(f"views.toml, row {key}: {error} is missing") from error
        except ValueError as error:
            raise ValueError(f"views.toml, row {key}: {error}") from error
    return views


# Windows that a word leaves open. "parasternal" alone says no side; the apex of the heart lies left parasternal too,
# but no trade word calls a long or short axis from there parasternal.
_OPEN_WINDOWS = {
    "parasternal": frozenset({"right_parasternal", "left_cranial"}),
    "left": frozenset({"left_apical", "left_cranial"}),
}
# From these windows every plane runs along the heart: a word about the axis tells nothing more.
_ONE_AXIS_WINDOWS = frozenset({"left_apical", "subcostal"})


@dataclass(frozen=True, slots=True)
class _Told:
    """What the words of a text say."""

    windows: tuple[str, ...]
    axes: tuple[str, ...]
    levels: tuple[str, ...]
    valves: tuple[Valve, ...]  # by words that name nothing but a valve
    level_valves: tuple[Valve, ...]  # by words that name a level


def _told(house: House, text: str) -> _Told:
    terms = house.table("views")["terms"]
    by_phrase = {phrase: term for term in terms.values() for phrase in term["words"]}
    found = [by_phrase[phrase] for phrase in find_phrases(text, by_phrase)]

    def each(name: str, rows: Iterable[Any]) -> tuple[str, ...]:
        return tuple(dict.fromkeys(row[name] for row in rows if row.get(name)))

    bare = [row for row in found if row.get("valve") and not row.get("level")]
    return _Told(
        windows=each("window", found),
        axes=each("axis", found),
        levels=tuple(level for level in each("level", found) if level not in each("refines", found)),
        valves=tuple(Valve(valve) for valve in each("valve", bare)),
        level_valves=tuple(Valve(valve) for valve in each("valve", found)),
    )


def _possible_windows(told: _Told, views: Iterable[View]) -> frozenset[str]:
    possible = frozenset(view.window for view in views)
    for window in told.windows:
        possible &= _OPEN_WINDOWS.get(window, frozenset({window}))
    return possible


def _only(valves: tuple[Valve, ...]) -> Valve | None:
    return valves[0] if len(valves) == 1 else None


def match_view_text(house: House, text: str) -> ViewMatch:
    """Return the view that a series text, a view name or a text on the screen names.

    Nothing is guessed: unless window, axis and level leave exactly one view of the table, the view stays unknown and
    the reason says what is left open. A text that names neither window nor axis ("MV", "4 chamber") names no view.

    Parameters
    ----------
    house : House
        Table "views".
    text : str
        Text as written, e.g. "RPLA 4CH", "right parasternal short axis, papillary muscles".

    Examples
    --------
    >>> from fanlight.reference.load import load_house
    >>> match_view_text(load_house(), "RPLA 4CH").view
    'right_parasternal_long_axis_four_chamber'
    """
    told = _told(house, text)
    valve = _only(told.valves) or _only(told.level_valves)
    views = read_views(house)
    if text.strip() in views:
        return ViewMatch(view=text.strip(), valve=valve)
    by_title = {view.title.casefold(): key for key, view in views.items()}
    if text.strip().casefold() in by_title:
        return ViewMatch(view=by_title[text.strip().casefold()], valve=valve)
    if not told.windows and not told.axes:
        return ViewMatch(valve=valve, reason="names neither the window nor the axis of a view" if text.strip() else "")
    windows = _possible_windows(told, views.values())
    if not windows:
        return ViewMatch(valve=valve, reason="names more than one window")
    if len(told.axes) > 1 and not windows <= _ONE_AXIS_WINDOWS:
        return ViewMatch(valve=valve, reason="names more than one axis")
    if len(told.levels) > 1:
        return ViewMatch(valve=valve, reason="names more than one plane")
    left = [
        view
        for view in views.values()
        if view.window in windows
        and (not told.axes or view.axis in told.axes or (windows <= _ONE_AXIS_WINDOWS))
        and (not told.levels or told.levels[0] in view.levels)
    ]
    if len(left) > 1 and valve is not None and len({view.window for view in left}) == 1:
        left = [view for view in left if view.by_valve is valve] or left
    if len(left) == 1:
        return ViewMatch(view=left[0].key, valve=valve)
    if not left:
        return ViewMatch(valve=valve, reason="names a plane that no view of the table has")
    open_part = "the window" if len({view.window for view in left}) > 1 else "the plane"
    return ViewMatch(valve=valve, reason=f"fits {len(left)} views: {open_part} is not said")


def _sct(house: House, code: str) -> str:
    return str(house.table("views")["older_modifiers"].get(code, code))


def match_view_code(
    house: House, code: str, modifiers: Iterable[str] = (), *, group: str = VIEW_CODE_GROUP
) -> ViewMatch:
    """Return the view that a code of the View Code Sequence (0054,0220) names, with its modifiers (0054,0222).

    Parameters
    ----------
    house : House
        Table "views".
    code : str
        Code value, SNOMED CT or the older scheme.
    modifiers : iterable of str
        Code values of the modifiers: side, approach, orientation.
    group : str
        Context group from which the code was taken; 399214001 means apical four chamber in group 12226 and no more
        than four chamber in group 6.

    Notes
    -----
    The codes were made for people. A parasternal code without the side as modifier stays unknown: in animals both
    sides have parasternal views.
    """
    if group != VIEW_CODE_GROUP:
        return ViewMatch(reason=f"code {code} comes from context group {group}, which tells no window")
    table = house.table("views")
    stated = frozenset(_sct(house, item) for item in modifiers)
    sides = tuple(side for side, row in table["sides"].items() if {_sct(house, c) for c in row["codes"]} & stated)
    rows = [row for row in table["codes"].values() if code and code in (row["code"], row["older"])]
    if not rows:
        return ViewMatch(reason=f"code {code} names no view of the table")
    if len(sides) > 1:
        return ViewMatch(reason=f"code {code}: the modifiers name both sides")
    side = sides[0] if sides else ""
    fitting = [row for row in rows if (not row["with"] or row["with"] in stated) and row["side"] in ("", side)]
    # A modifier that narrows the code further wins over the bare code.
    fitting.sort(key=lambda row: -bool(row["with"]))
    if fitting:
        row = fitting[0]
        view = read_views(house)[row["view"]]
        if side == "right" and view.window.startswith("left"):
            return ViewMatch(reason=f"code {code} ({row['meaning']}) contradicts its modifier, right side")
        return ViewMatch(view=view.key, reason=row["meaning"])
    meaning = rows[0]["meaning"].split(", with")[0]
    if not side:
        return ViewMatch(reason=f"code {code} ({meaning}) says no side, and the modifiers name none")
    return ViewMatch(reason=f"code {code} ({meaning}) names no single view from the {side}")
