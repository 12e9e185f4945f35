"""LA:Ao at or above a limit: whether three frames acquired independently and the long axis bear it out."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from fanlight.reference.units import say_value
from fanlight.study import Measurement, Remark
from fanlight.validity.meaning.grade import join
from fanlight.validity.meaning.inputs import Told, caliper_way, interval_side, short_axis_ratios
from fanlight.validity.measured import is_bound

LONG = ("la_ao_long_axis", "left_atrium_long_axis")
NOT_BORNE_OUT = "is not borne out by other clips and the long axis"


@dataclass(frozen=True, slots=True, kw_only=True)
class Support:
    """What an LA:Ao at or above a limit rests on."""

    remark: Remark
    holds: bool
    axis_disagrees: bool


def atrium_support(told: Told) -> Support | None:
    """Return what an LA:Ao at or above a limit rests on, None where none reaches a limit that speaks."""
    ratios = [item for item in short_axis_ratios(told) if item.value is not None]
    reached = [(item, limit) for item in ratios if (limit := _limit_reached(item)) is not None]
    if not reached:
        return None
    item, limit = reached[0]
    ways = dict.fromkeys(_way(each) for each in ratios)
    of_way = [each for each in ratios if _way(each) == _way(item)]
    frames, is_enough = _frames(of_way, limit, told.tables.independent_frames)
    if len(ways) > 1:
        frames += " (values by another caliper convention, or by one that is not named, are not counted with it)"
    axis, agrees = _long_axis(told)
    holds = is_enough and agrees is True
    value, verdict = say_value(item.value or 0.0, "1"), "holds" if holds else "is not borne out"
    remark = Remark(
        kind="limit",
        words=f"LA:Ao {value} reaches {say_value(limit, '1')} and {verdict}: {frames}; {axis}.",
        sheet_only=all(each.sheet_only for each, _ in reached),
    )
    return Support(remark=remark, holds=holds, axis_disagrees=agrees is False)


def _way(item: Measurement) -> str:
    """Return the caliper convention that label or method names, "" where none is."""
    return caliper_way(f"{item.label} {item.method}")


def _limit_reached(item: Measurement) -> float | None:
    """Return the highest limit that speaks and that the value reaches from below."""
    value = item.value or 0.0
    limits = [
        reading.upper
        for reading in item.readings
        if reading.applies and reading.upper is not None and value >= reading.upper
    ]
    return max(limits) if limits else None


def _frames(ratios: Iterable[Measurement], limit: float, wanted: int) -> tuple[str, bool]:
    """Say from how many clips of their own values come, and whether enough of them reach the limit.

    Frames of one clip share its plane and do not count twice; nor do values of which nobody says where they were
    taken: beside named clips they may be copies of one of these and do not count, alone they count as one.
    """
    by_clip: dict[str, list[float]] = {}
    for item in ratios:
        by_clip.setdefault(item.clip.rsplit("/", 1)[-1], []).append(item.value or 0.0)
    if len(by_clip) > 1:
        by_clip.pop("", None)
    means = [sum(values) / len(values) for values in by_clip.values()]
    above = sum(mean >= limit for mean in means)
    if len(means) < wanted:
        where = "" if all(by_clip) else " (which is not stated)"
        n = "one clip" if len(means) == 1 else f"{len(means)} clips"
        return f"it comes from {n}{where}, and frames of {wanted} clips acquired independently are needed", False
    spread = f"{len(means)} clips, {min(means):.2f} to {max(means):.2f}"
    if above < wanted:
        return f"{spread}, of which {above} reach the limit and {wanted} are needed", False
    return f"{spread}, {above} of them at or above the limit", True


def _long_axis(told: Told) -> tuple[str, bool | None]:
    """Say whether a long-axis LA agrees that the atrium is large, by the interval of its own; None: nothing tells."""
    found = [item for item in told.measurements if item.name in LONG and item.value is not None and not is_bound(item)]
    judged = [(item, side) for item in found if (side := interval_side(told, item.name, item.value or 0.0, item.unit))]
    if not judged:
        lacks = "no limit of the tables holds for it" if found else "none was measured"
        return f"no long-axis LA bears it out: {lacks}", None
    words = [
        f"{told.symbols[item.name]} {say_value(item.value or 0.0, item.unit)} ({item.given_by}) {side.words}"
        for item, side in judged
    ]
    agrees = all(side.side == "above" for _, side in judged)
    return f"{join(words)}{' and agrees' if agrees else ' and does not agree'}", agrees
