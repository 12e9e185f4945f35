"""Left atrium to aorta in the short axis, by two published conventions: which one two lines follow, and their ratio."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

from fanlight.measure.picture.obliquity import drawn_out, tilt_of_tube_deg
from fanlight.measure.picture.placed import Given, Grid, OnFrame, Placed, Points, carried
from fanlight.measure.picture.sizes import PARTS
from fanlight.measure.shapes import Pixel, angle_deg, distance
from fanlight.study import Landmark, Point

# Engineering judgement, all four. The commissures of one cusp stand 120° apart, so the two lines of the one convention
# cross at about 60°, and those of the other at 0°.
_ONE_LINE_DEG = 20.0
_CROSSED_DEG = (35.0, 85.0)
_BESIDE_SHARE = 0.35  # of the aorta: how far beside its line the middle of the atrium's may lie on a single line
_ROUND_NOTED, _ROUND_REFUSED = 0.93, 0.87  # smaller over larger axis of a root: a tube cut 21° and 30° off
_COMMISSURES = (
    Landmark.COMMISSURE_RIGHT_NONCORONARY, Landmark.COMMISSURE_LEFT_NONCORONARY, Landmark.COMMISSURE_RIGHT_LEFT,
)  # fmt: skip


class Convention(StrEnum):
    """The two published ways of setting the calipers; never mixed in one number."""

    COMMISSURE = "commissure-parallel"
    LINE = "single line"


# Keys of the bibliography.
SOURCES = {Convention.COMMISSURE: "HANSSON2002, FELINECARD", Convention.LINE: "WHIPPET2023"}
_WORDS = {
    Convention.COMMISSURE: ("commissure-parallel", "commissure parallel", "commissure", "commissures"),
    Convention.LINE: ("single line", "single-line", "one line", "on one line"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class LaAo:
    """One frame's lines: ratio and both parts, or why there is none."""

    frame: int
    convention: Convention | None = None
    ratio: OnFrame | None = None
    root: OnFrame | None = None  # in units of the grid
    atrium: OnFrame | None = None
    reason: str = ""
    note: str = ""

    def part(self, key: str) -> OnFrame | None:
        """Return the ratio or one of its parts by the key of the quantity."""
        return {"la_ao": self.ratio, "left_atrium": self.atrium, "aortic_root": self.root}[key]


def named_convention(words: str) -> Convention | None:
    """Return the convention that the words beside a line name, None where they name none or both."""
    text = f" {' '.join(words.lower().replace(',', ' ').replace('(', ' ').replace(')', ' ').split())} "
    found = {way for way, phrases in _WORDS.items() for phrase in phrases if f" {phrase} " in text}
    return found.pop() if len(found) == 1 else None


def convention_of(root: Points, atrium: Points, pixel: Pixel) -> Convention | None:
    """Return the convention that two lines follow, None where they follow neither.

    Parameters
    ----------
    root, atrium : tuple of two (row, col)
        Ends of each line, either end first.
    pixel : Pixel

    References
    ----------
    .. [HANSSON2002] [FELINECARD] page 133: the aorta along the commissure of right and non-coronary cusp, the atrium
       along that of left and non-coronary cusp.
    .. [WHIPPET2023] table 1: the atrium on the aorta's line, continued.
    """
    crossed = _crossing_deg(root, atrium, pixel)
    if _CROSSED_DEG[0] <= crossed <= _CROSSED_DEG[1]:
        return Convention.COMMISSURE
    if crossed > _ONE_LINE_DEG:
        return None
    middle = ((atrium[0][0] + atrium[1][0]) / 2, (atrium[0][1] + atrium[1][1]) / 2)
    length = distance(root[0], root[1], pixel)
    return Convention.LINE if _beside(middle, root, pixel) <= _BESIDE_SHARE * length else None


def measure_la_ao(given: Given, grid: Grid) -> tuple[LaAo, ...]:
    """Return left atrium to aorta on each frame on which both lines were set, or why it is not given there.

    Parameters
    ----------
    given : Given
        Its lines "left_atrium" and "aortic_root"; commissures on the same frame tell how oblique the plane is.
    grid : Grid
    """
    frames = sorted({item.frame for item in given.lines if item.what in ("left_atrium", "aortic_root")})
    return tuple(_on_frame(each, frame, grid) for frame in frames for each in _by_convention(given, frame))


def _by_convention(given: Given, frame: int) -> tuple[Given, ...]:
    """Return what was set, once for each convention where the lines of a frame name both: each pair by itself."""
    ways = {item: named_convention(item.said) for item in given.lines if item.frame == frame and item.what in PARTS}
    if not set(Convention) <= set(ways.values()):
        return (given,)
    return tuple(
        replace(given, lines=tuple(item for item in given.lines if ways.get(item, way) in (way, None)))
        for way in Convention
    )


def _on_frame(given: Given, frame: int, grid: Grid) -> LaAo:
    root, atrium = (_last(given, what, frame) for what in ("aortic_root", "left_atrium"))
    if root is None or atrium is None:
        missing = "aorta (Ao)" if root is None else "left atrium (LA)"
        return LaAo(frame=frame, reason=f"frame {frame + 1} lacks the line across the {missing}")
    if any(distance(item.points[0], item.points[1], grid.pixel) == 0 for item in (root, atrium)):
        return LaAo(frame=frame, reason=f"a line on frame {frame + 1} has no length; set it again")
    seen = convention_of(root.points, atrium.points, grid.pixel)
    named = named_convention(f"{root.said} {atrium.said}")
    if seen is None:
        return LaAo(
            frame=frame,
            reason=f"the lines on frame {frame + 1} follow neither published convention: they cross at "
            f"{_crossing_deg(root.points, atrium.points, grid.pixel):.0f}°, and would cross at about 60° along the "
            "commissures or lie on one line",
        )
    if named is not None and named is not seen:
        reason = f"the lines on frame {frame + 1} are named {named.value} and lie as {seen.value}"
        return LaAo(frame=frame, reason=reason)
    fault, note = root_fault(given, frame, grid.pixel)
    if fault:
        return LaAo(frame=frame, convention=seen, reason=fault)
    points, sd = (*atrium.points, *root.points), (*atrium.sd_px, *root.sd_px)

    def ratio(at: Points) -> float:
        return distance(at[0], at[1], grid.pixel) / distance(at[2], at[3], grid.pixel)

    return LaAo(
        frame=frame,
        convention=seen,
        ratio=OnFrame(frame=frame, value=ratio(points), placement=carried(ratio, points, sd)),
        root=_length_on(root, grid.pixel),
        atrium=_length_on(atrium, grid.pixel),
        note=note,
    )


def root_fault(given: Given, frame: int, pixel: Pixel) -> tuple[str, str]:
    """Return why the aortic root is cut too obliquely to measure, and what is to be noted of it; each "" if nothing.

    It asks the three commissures, where they were marked: no chamber that disease deforms.
    """
    corners = [given.landmark(name.name, frame) for name in _COMMISSURES]
    if any(corner is None for corner in corners):
        return "", ""
    points = tuple(corner.points[0] for corner in corners if corner is not None)
    sd = tuple(corner.sd_px[0] for corner in corners if corner is not None)
    roundness = drawn_out(points, pixel)
    error = carried(lambda at: drawn_out(at, pixel), points, sd)
    if roundness >= _ROUND_NOTED:
        return "", ""
    words = (
        f"the commissures on frame {frame + 1} are drawn out (smaller over larger axis {roundness:.2f} ± {error:.2f}): "
        f"the plane crosses the root about {tilt_of_tube_deg(max(roundness, 1e-3)):.0f}° obliquely"
    )
    return (words, "") if roundness + 2 * error < _ROUND_REFUSED else ("", words)


def _length_on(line: Placed, pixel: Pixel) -> OnFrame:
    def length(at: Points) -> float:
        return distance(at[0], at[1], pixel)

    return OnFrame(frame=line.frame, value=length(line.points), placement=carried(length, line.points, line.sd_px))


def _last(given: Given, what: str, frame: int) -> Placed | None:
    found = [item for item in given.lines if item.what == what and item.frame == frame]
    return found[-1] if found else None


def _crossing_deg(one: Points, other: Points, pixel: Pixel) -> float:
    """Return the smaller angle between two lines, 0 to 90 degrees."""
    shift = (other[0][0] - one[0][0], other[0][1] - one[0][1])
    end: Point = (other[1][0] - shift[0], other[1][1] - shift[1])
    angle = angle_deg((one[1], one[0], end), pixel)
    return min(angle, 180.0 - angle)


def _beside(point: Point, line: Points, pixel: Pixel) -> float:
    """Return how far a point lies beside a line that runs on at both ends."""
    (row0, col0), (row1, col1) = line
    down, across = (row1 - row0) * pixel.down, (col1 - col0) * pixel.across
    to_down, to_across = (point[0] - row0) * pixel.down, (point[1] - col0) * pixel.across
    return abs(down * to_across - across * to_down) / distance(line[0], line[1], pixel)
