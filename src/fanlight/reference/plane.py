"""Readers of what each view asks of its plane, and of what the standard plane looks like on simulated animals."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from fanlight.study import Basis, House, Landmark, Side, Structure

BY_MARKS = "marks"
ENDS = ("end_diastole", "end_systole", "any")  # of the beat; "any": nobody knows which


class Lies(StrEnum):
    """How the long axis of the ventricle lies on the screen."""

    ACROSS = "across"
    DOWN = "down"
    NOT_ASKED = ""


class Aorta(StrEnum):
    """What a view asks of the aorta."""

    SHOWN = "shown"
    ABSENT = "absent"
    NOT_ASKED = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sign:
    """A structure that tells of a level: seen from this share of the heart's area in the picture on."""

    structure: Structure
    from_share: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Tick:
    """What a mentor's tick of an item means, when it is lacking or unwanted."""

    criterion: str
    side: Side
    value: float  # that the finding then has


@dataclass(frozen=True, slots=True, kw_only=True)
class ViewPlane:
    """What the House asks of the plane of one view. Empty: not asked."""

    view: str
    lies: Lies
    lines: tuple[tuple[Landmark, Landmark], ...]  # from the apical to the basal end; the first is the best
    targets: tuple[Landmark, ...]  # that lie in the middle of the picture
    order: tuple[tuple[Landmark, Landmark], ...]  # the first lies further left on the screen
    apex: bool  # whether the ventricle is shown to its apex
    no_papillary: bool  # whether no papillary muscle may be cut
    aorta: Aorta
    short_axis: bool  # whether the ventricle is cut across
    root: bool  # whether the aortic root is cut across
    basal: tuple[Sign, ...]  # what is seen when the level is too near the base
    apical: tuple[Sign, ...]
    own: tuple[Sign, ...]  # what the level itself shows
    lacking: str  # side of the level where its own structure lacks: "low", "high", "marks", "" not told
    basal_marks: tuple[Landmark, ...]
    apical_marks: tuple[Landmark, ...]
    ticks: Mapping[str, Tick]  # by item of views.toml
    basis: Basis


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """What a value is in the standard plane, over simulated animals with and without disease."""

    mean: float
    spread: float  # one standard deviation between animals


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaneSettings:
    """Numbers of the whole table."""

    person_px: float  # error of a person's point, one standard deviation, rows of the picture
    person_depth_share: float  # the same, of the depth: where the place itself is
    not_found_share: float  # probability of a landmark that the network does not name
    shown_from: float  # a landmark's probability from which on its place is used
    share_error: float  # of a structure's area, as a share of it
    share_error_least: float
    rim_share: float  # of the depth: nearer than this to a border a place says nothing of a length
    label_from: float  # probability of a view from which on the network may doubt a name
    beat_share: float  # of a beat: so near to an end of it a frame counts as that end
    spreads: float  # by so many standard deviations a miss must lie outside the band


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaneTables:
    """All that the House says of planes."""

    views: Mapping[str, ViewPlane]
    lines: Mapping[tuple[str, str, str], Expected]  # slope in degrees, by view, end of the beat, line
    targets: Mapping[tuple[str, str, str], Expected]  # share of the half width, by view, end of the beat, landmark
    aortas: Mapping[str, float]  # share of aorta over aorta and ventricle that nine of ten standard planes reach
    traced: Mapping[str, tuple[str, ...]]  # words by which a trace is known: "ventricle", "aorta", "papillary"
    settings: PlaneSettings


def line_name(line: tuple[Landmark, Landmark]) -> str:
    """Return the name under which a line stands in the table of the standard planes."""
    return f"{line[0].name.lower()} {line[1].name.lower()}"


def read_plane_tables(house: House) -> PlaneTables:
    """Return what the House asks of planes.

    Raises
    ------
    ValueError
        Naming table and row, when a view has none, or a row holds an unknown key, landmark, structure or item.
    """
    table, standard = house.table("plane"), house.table("plane_standard")["views"]
    known = house.table("views")["views"]
    for name, rows in (("plane", table["views"]), ("plane_standard", standard)):
        if missing := sorted(set(known) - set(rows)):
            raise ValueError(f"{name}.views lacks {', '.join(missing)}; a view that asks for nothing has empty rows")
        if unknown := sorted(set(rows) - set(known)):
            raise ValueError(f"{name}.views.{unknown[0]}: no such view")
    settings = table["settings"]
    wanted = set(PlaneSettings.__dataclass_fields__)
    if set(settings) != wanted:
        raise ValueError(f"plane.settings needs {', '.join(sorted(wanted))}; it has {', '.join(sorted(settings))}")
    return PlaneTables(
        views=read_views_asked(house),
        lines=_expected(standard, "slope_deg"),
        targets=_expected(standard, "across_share"),
        aortas={key: float(row["aorta_share"]) for key, row in standard.items()},
        traced={key: tuple(words) for key, words in table["traced"].items()},
        settings=PlaneSettings(**{key: float(value) for key, value in settings.items()}),
    )


def read_views_asked(house: House) -> dict[str, ViewPlane]:
    """Return what is asked of the plane of each view."""
    return {key: _view(key, row) for key, row in house.table("plane")["views"].items()}


_VIEW_KEYS = {
    "lies", "lines", "targets", "order", "apex", "no_papillary", "aorta", "short_axis", "root", "basal", "apical",
    "own", "lacking", "basal_marks", "apical_marks", "ticks", "basis",
}  # fmt: skip


def _view(key: str, row: Mapping[str, Any]) -> ViewPlane:
    where = f"plane.views.{key}"
    if set(row) != _VIEW_KEYS:
        raise ValueError(f"{where} needs {', '.join(sorted(_VIEW_KEYS))}; it has {', '.join(sorted(row))}")
    try:
        return ViewPlane(
            view=key,
            lies=Lies(row["lies"]),
            lines=tuple(_pair(pair) for pair in row["lines"]),
            targets=_marks(row["targets"]),
            order=tuple(_pair(pair) for pair in row["order"]),
            apex=bool(row["apex"]),
            no_papillary=bool(row["no_papillary"]),
            aorta=Aorta(row["aorta"]),
            short_axis=bool(row["short_axis"]),
            root=bool(row["root"]),
            basal=_signs(row["basal"]),
            apical=_signs(row["apical"]),
            own=_signs(row["own"]),
            lacking=_one_of(row["lacking"], (Side.LOW.value, Side.HIGH.value, BY_MARKS, "")),
            basal_marks=_marks(row["basal_marks"]),
            apical_marks=_marks(row["apical_marks"]),
            ticks=_ticks(row["ticks"]),
            basis=Basis(row["basis"]),
        )
    except (KeyError, ValueError) as error:
        raise ValueError(f"{where}: {error} is not known") from error


def _one_of(value: str, known: tuple[str, ...]) -> str:
    if value not in known:
        raise ValueError(repr(value))
    return value


def _marks(names: list[str]) -> tuple[Landmark, ...]:
    return tuple(Landmark[name.upper()] for name in names)


def _pair(names: list[str]) -> tuple[Landmark, Landmark]:
    first, second = names
    return Landmark[first.upper()], Landmark[second.upper()]


def _signs(row: Mapping[str, float]) -> tuple[Sign, ...]:
    return tuple(Sign(structure=Structure[name.upper()], from_share=float(share)) for name, share in row.items())


def _expected(standard: Mapping[str, Any], name: str) -> dict[tuple[str, str, str], Expected]:
    found = {}
    for view, row in standard.items():
        for what, ends in row.get(name, {}).items():
            for end in ENDS:
                mean, spread = ends[end]
                found[view, end, what] = Expected(mean=float(mean), spread=float(spread))
    return found


def _ticks(rows: Mapping[str, Any]) -> dict[str, Tick]:
    """Return what ticks mean; an item that a group words otherwise in its views is never ticked under this name."""
    return {
        item: Tick(criterion=row["criterion"], side=Side(row["side"]), value=float(row["value"]))
        for item, row in rows.items()
    }
