"""Settle how large a pixel is: every witness is heard, and those that contradict each other are not believed."""

from __future__ import annotations

import math
import re
from itertools import combinations

from fanlight.frames.regions import RegionCheck
from fanlight.study import Picture, Point, Ruler, Scale, ScaleSource, ScaleWitness, ScreenText, Sector

Marks = tuple[Point, Point, float]  # two points (row, col) and their distance in mm

# Shares of the value, one standard deviation.
_REGION_UNCERTAINTY = 0.005  # stated to many digits; the machine's own calibration (engineering judgement)
_PICTURE_UNCERTAINTY = 0.02  # the written depth may count from the lens or from the face (engineering judgement)
_POINTED_FRACTION = 0.15  # of the far radius: a nearer face may be the tip of a phased array (engineering judgement)
_MARK_PX = 1.0  # how well a point is placed by hand
# Two witnesses disagree beyond three standard deviations, and never within 3 %: no clinical length turns on that.
_LEAST_TOLERANCE = 0.03
# Faces of arrays: radius of a curved one up to some 80 mm, length of a straight one up to some 70 mm. A scale that
# makes them larger rests on a depth that the painted picture does not show (physics; engineering judgement).
_MAX_FACE_MM = 100.0
_DEPTHS_MM = (10.0, 400.0)  # displayed depths that machines offer


def written_depth_mm(texts: tuple[ScreenText, ...]) -> tuple[float | None, float, str]:
    """Return the displayed depth written on the screen, half of its last digit, and the words.

    A length that a word calls the depth wins; else the one length that stands alone in its piece of text. Several
    different candidates: none is taken, and the words say so.
    """
    named: list[tuple[float, float, str]] = []
    alone: list[tuple[float, float, str]] = []
    for item in texts:
        lengths = [q for q in item.quantities if q.unit in ("cm", "mm")]
        if len(lengths) != 1:
            continue
        quantity = lengths[0]
        value = quantity.value * (10.0 if quantity.unit == "cm" else 1.0)
        if not _DEPTHS_MM[0] <= value <= _DEPTHS_MM[1]:
            continue
        half = 0.5 * _last_digit(item.text, quantity.unit)
        found = (value, half, f"“{quantity.value:g} {quantity.unit}” on the screen")
        if re.search(r"\b(depth|dep|dpt)\b", item.text.lower()):
            named.append(found)
        elif re.fullmatch(r"\W*\d+(?:[.,]\d+)?\s*[cm]m\W*", item.text.strip().lower()):
            alone.append(found)
    for candidates in (named, alone):
        if len({value for value, _, _ in candidates}) == 1:
            return candidates[0]
        if candidates:
            listed = ", ".join(words for _, _, words in candidates)
            return None, 0.0, f"several lengths could be the depth: {listed}"
    return None, 0.0, "no depth is written on the screen"


def _last_digit(text: str, unit: str) -> float:
    """Worth of the last digit written, in mm."""
    match = re.search(r"\d+(?:[.,](\d+))?", text)
    decimals = len(match.group(1)) if match and match.group(1) else 0
    return float((10.0 if unit == "cm" else 1.0) * 10.0**-decimals)


def settle_scale(
    regions: tuple[RegionCheck, ...],
    ruler: Ruler | None,
    texts: tuple[ScreenText, ...],
    picture: Picture | None,
    marks: Marks | None,
    depth_is_seen: bool = True,
) -> tuple[Scale | None, str]:
    """Weigh all witnesses for the size of a pixel.

    Parameters
    ----------
    regions : tuple of RegionCheck
        Checked against the pixels; one that is not trusted counts only with another witness on its side.
    ruler : Ruler or None
        Depth marks; a witness when their step is known.
    texts : tuple of ScreenText
        The depth written on the screen, together with the picture's depth in pixels.
    picture : Sector, Strip or None
    marks : (point, point, distance_mm) or None
        Two points that the user marked; the last to be asked, and the one that decides between two others.
    depth_is_seen : bool
        Whether the deepest row of the picture lies on the frame. Where it was cut off, the written depth belongs to
        pixels that are not there.

    Returns
    -------
    scale : Scale or None
        None when there is no witness, or when witnesses contradict each other.
    reason : str
        Names the source, or both contradicting witnesses with their numbers.

    Raises
    ------
    ValueError
        If the marked points coincide or their distance is not above 0.
    """
    stretch, stretch_known = _stretch(regions, picture)
    firm, doubted = _region_witnesses(regions)
    firm += _screen_witnesses(ruler, texts if depth_is_seen else (), picture)
    marked = _marked_witness(marks, stretch)
    firm += [marked] if marked else []
    believed = [item for item in doubted if any(_agree(item, other) for other in firm)]
    heard = tuple(firm + doubted)
    if not firm:
        return None, _no_witness(regions, ruler, texts, doubted)
    if marked is not None and _worst_clash([item for item in firm if item is not marked]) is not None:
        # The user's two points decide between two sources that contradict each other.
        agreed = [item for item in firm if _agree(item, marked)]
        firm = agreed if len(agreed) > 1 else firm
    clash = _worst_clash(firm)
    if clash is not None:
        return None, _clash_words(*clash)
    order = list(ScaleSource)
    chosen = min(firm, key=lambda item: order.index(item.source))
    uncertainty = chosen.uncertainty_mm_per_px / chosen.mm_per_px
    agreeing = [item for item in [*firm, *believed] if item is not chosen]
    reason = f"{chosen.words}: {chosen.mm_per_px:.3g} mm a pixel"
    if agreeing:
        reason += "; agrees with " + ", ".join(item.words for item in agreeing)
    contradicting = [item for item in doubted if item not in believed]
    if contradicting and not agreeing and chosen.source is ScaleSource.TEXT:
        # A depth divided by a picture that was found is too weak to overrule even a doubted region.
        return None, _clash_words(chosen, contradicting[0])
    if contradicting:
        reason += "; not believed: " + ", ".join(f"{item.words} ({item.mm_per_px:.3g} mm)" for item in contradicting)
    if not stretch_known:
        uncertainty = max(uncertainty, 0.01)  # square pixels are assumed; screens of other shape differ visibly
    return Scale(
        mm_per_row_px=chosen.mm_per_px,
        mm_per_col_px=chosen.mm_per_px * stretch,
        source=chosen.source,
        uncertainty_fraction=uncertainty,
        witnesses=heard,
    ), reason


def _stretch(regions: tuple[RegionCheck, ...], picture: Picture | None) -> tuple[float, bool]:
    for check in regions:
        if check.reading.trusted and check.mm_per_row_px is not None:
            return check.col_per_row, True
    return (picture.col_stretch, False) if isinstance(picture, Sector) else (1.0, False)


def _region_witnesses(regions: tuple[RegionCheck, ...]) -> tuple[list[ScaleWitness], list[ScaleWitness]]:
    firm: list[ScaleWitness] = []
    doubted: list[ScaleWitness] = []
    for number, check in enumerate(regions, start=1):
        value = check.mm_per_row_px
        if value is None:
            continue
        words = f"region {number} of the file"
        if check.factor is not None:
            words += f" (multiplied by {check.factor:.3g})"
        witness = ScaleWitness(
            source=ScaleSource.REGION,
            mm_per_px=value,
            uncertainty_mm_per_px=_REGION_UNCERTAINTY * value,
            words=words,
        )
        (firm if check.reading.trusted else doubted).append(witness)
    return firm, doubted


def _screen_witnesses(
    ruler: Ruler | None, texts: tuple[ScreenText, ...], picture: Picture | None
) -> list[ScaleWitness]:
    found: list[ScaleWitness] = []
    if ruler is not None and ruler.mm_per_mark is not None:
        value = ruler.mm_per_mark / ruler.spacing_px
        # The whole row of marks is placed to about one pixel from end to end.
        share = 1.0 / max(ruler.spacing_px * max(ruler.n_marks - 1, 1), 1.0)
        found.append(
            ScaleWitness(
                source=ScaleSource.RULER,
                mm_per_px=value,
                uncertainty_mm_per_px=max(share, 0.003) * value,
                words=f"the depth ruler ({ruler.n_marks} marks, {ruler.mm_per_mark:g} mm apart)",
            )
        )
    depth, half_digit, words = written_depth_mm(texts)
    if depth is not None and picture is not None:
        pixels, face_share = _counted_depth_px(picture)
        value = depth / pixels
        face = picture.near_px if isinstance(picture, Sector) else float(picture.box.width_px)
        if face * value <= _MAX_FACE_MM:
            # Rounded evenly over the last digit: half of it divided by the root of three.
            share = math.hypot(_PICTURE_UNCERTAINTY, half_digit / math.sqrt(3) / depth, face_share)
            found.append(
                ScaleWitness(
                    source=ScaleSource.TEXT,
                    mm_per_px=value,
                    uncertainty_mm_per_px=share * value,
                    words=f"{words} over {pixels:.0f} pixels of picture",
                )
            )
    return found


def _counted_depth_px(picture: Picture) -> tuple[float, float]:
    """Pixels that the written depth spans, and the uncertainty of their first row as a share.

    The array of a pointed fan stands at its tip; what looks like a short face may be dim first millimetres. Zero then
    lies anywhere between tip and face: the middle is taken, an even spread is half of it divided by the root of three.
    """
    if isinstance(picture, Sector) and picture.near_px < _POINTED_FRACTION * picture.far_px:
        pixels = picture.far_px - 0.5 * picture.near_px
        return pixels, 0.5 * picture.near_px / math.sqrt(3) / pixels
    return picture.depth_px, 0.0


def _marked_witness(marks: Marks | None, stretch: float) -> ScaleWitness | None:
    if marks is None:
        return None
    (row0, col0), (row1, col1), distance_mm = marks
    length = math.hypot(row1 - row0, (col1 - col0) * stretch)
    if length <= 0 or not distance_mm > 0:
        raise ValueError(
            f"two marked points must differ and lie some millimetres apart, got {length:g} pixels and {distance_mm} mm"
        )
    value = distance_mm / length
    return ScaleWitness(
        source=ScaleSource.MARKED,
        mm_per_px=value,
        uncertainty_mm_per_px=value * math.sqrt(2) * _MARK_PX / length,
        words=f"two marked points {distance_mm:g} mm apart",
    )


def _agree(one: ScaleWitness, two: ScaleWitness) -> bool:
    spread = math.hypot(one.uncertainty_mm_per_px / one.mm_per_px, two.uncertainty_mm_per_px / two.mm_per_px)
    return abs(math.log(one.mm_per_px / two.mm_per_px)) <= max(3 * spread, _LEAST_TOLERANCE)


def _worst_clash(witnesses: list[ScaleWitness]) -> tuple[ScaleWitness, ScaleWitness] | None:
    pairs = [pair for pair in combinations(witnesses, 2) if not _agree(*pair)]
    return max(pairs, key=lambda pair: abs(math.log(pair[0].mm_per_px / pair[1].mm_per_px)), default=None)


def _clash_words(one: ScaleWitness, two: ScaleWitness) -> str:
    return (
        f"{one.words} makes a pixel {one.mm_per_px:.3g} mm, {two.words} makes it {two.mm_per_px:.3g} mm: one of "
        "them is wrong, so nothing is measured. Mark two points of known distance, or ask for the original export"
    )


def _no_witness(
    regions: tuple[RegionCheck, ...], ruler: Ruler | None, texts: tuple[ScreenText, ...], doubted: list[ScaleWitness]
) -> str:
    parts = []
    if doubted:
        parts.append("; ".join(check.reading.reason for check in regions if not check.reading.trusted))
    elif not regions:
        parts.append("the file has no ultrasound regions")
    else:
        parts.append("no region of the file gives lengths")
    parts.append(
        "no depth ruler was found" if ruler is None else f"a depth ruler was found, but {ruler.reason.split('; ')[-1]}"
    )
    depth, _, words = written_depth_mm(texts)
    parts.append(words if depth is None else f"{words}, but no picture of a depth that fits it")
    return "; ".join(parts) + ". Mark two points of known distance, or ask for the original export"
