"""Where the probe stood, in words: for the study sheet and the command line."""

from __future__ import annotations

from collections.abc import Mapping

from fanlight.coach.movements.named import Opposed, opposed_movements
from fanlight.reference.movements import MovementTables
from fanlight.report import words
from fanlight.report.document import Block, Grid, Heading, Paragraph, Voice
from fanlight.study import ClipStand, EitherMovement, ProbeOffset, StudyReview, WindowStand
from fanlight.study.sentence import capital

# As the probe stood, by movement and sense; the signs are those of the house.
_STOOD: Mapping[tuple[str, int], str] = {
    ("slide", 1): "too far dorsal in its space", ("slide", -1): "too far ventral in its space",
    ("space", 1): "in a space too cranial", ("space", -1): "in a space too caudal",
    ("rotate", 1): "turned too far clockwise", ("rotate", -1): "turned too far counter-clockwise",
    ("tilt", 1): "tilted with the beam too far to the viewer's side",
    ("tilt", -1): "tilted with the beam too far from the viewer's side",
    ("rock", 1): "rocked too far towards the marker", ("rock", -1): "rocked too far away from the marker",
    ("press", 1): "pressed in too deep", ("press", -1): "lifted off too far",
}  # fmt: skip
_UNITS = {"deg": "°", "mm": " mm", "spaces": " spaces"}
_LIKELY, _ALIKE = 0.8, 0.5  # only what is sure is advised (movements.toml); the rest is told
_NOTE = (
    "Told from named landmarks and simulated hearts, with the range that holds nine times in ten; nothing was compared "
    "with real animals. Changes are asked for by what a person marked; by what the network saw only where the House "
    "lets it. The attending veterinarian and the mentor decide."
)


def stand_lines(review: StudyReview, tables: MovementTables) -> tuple[tuple[str, str], ...]:
    """Return what is told of each clip: its number in words, and where the probe stood or why nothing is told."""
    numbers = {reading.clip.key: reading.clip.number for reading in review.readings}
    lines = []
    for stand in review.stands:
        lines += [(numbers[clip.clip], clip_words(clip, tables.limits.named_from)) for clip in stand.clips]
        lines += [(numbers[left.clip], f"not told: {left.reason}") for left in stand.left_out]
    return tuple((words.clips([number]), said) for number, said in sorted(lines))


def clip_words(clip: ClipStand, sure_from: float) -> str:
    """Return where the probe stood in one clip, from how many landmarks; sure from the House's probability on."""
    basis = f"({words.count(clip.n_landmarks, 'landmark', 'landmarks')} {clip.given_by})"
    if clip.silent:
        return f"nothing is advised: {clip.silent} {basis}"
    pairs = [pair for pair in clip.pairs if pair.probability >= sure_from]
    paired = {name for pair in pairs for name in (pair.first, pair.second)}
    told = [
        offset_words(one, sure_from) for one in clip.offsets if one.probability >= _ALIKE and one.movement not in paired
    ]
    told += [pair_words(pair, sure_from) for pair in pairs]
    if not told:
        return f"no movement away from the standard plane is seen {basis}"
    return f"{'; '.join(told)} {basis}"


def offset_words(one: ProbeOffset, sure_from: float) -> str:
    """Return one movement: how sure, in which sense, how far."""
    unit = _UNITS[one.unit]
    low, high = sorted((one.sense * one.low, one.sense * one.high))
    digits = 1 if one.unit == "spaces" else 0
    sure = how_sure(one.probability, sure_from)
    how_far = f"{max(low, 0.0):.{digits}f}{unit} to {high:.{digits}f}{unit}"
    return f"{sure} {_STOOD[one.movement, one.sense]}, by {how_far}"


def pair_words(pair: EitherMovement, sure_from: float) -> str:
    """Return two movements of which one, or both, would explain the picture, and how sure that is."""
    first, second = _STOOD[pair.first, pair.first_sense], _STOOD[pair.second, pair.second_sense]
    return f"{how_sure(pair.probability, sure_from)} either {first} or {second}: the picture does not tell which"


def how_sure(probability: float, sure_from: float) -> str:
    """Return how sure it is that the probe stood off so, in words."""
    return "very likely" if probability >= sure_from else "likely" if probability >= _LIKELY else "perhaps"


def stand_blocks(review: StudyReview, tables: MovementTables) -> list[Block]:
    """Return the table of the study sheet, nothing where no landmarks are known."""
    rows = stand_lines(review, tables)
    if not rows:
        return []
    place = tuple(said for stand in review.stands for said in _place_words(stand, tables.limits.named_from))
    return [
        Heading(text="Where the probe stood"),
        Grid(head=("Clip", "Seen from the standard plane"), rows=rows, widths=(0.15, 0.85)),
        *(Paragraph(text=said) for said in (*place, *opposite_lines(review, tables))),
        Paragraph(text=_NOTE, voice=Voice.QUIET),
    ]


def opposite_lines(review: StudyReview, tables: MovementTables) -> tuple[str, ...]:
    """Return of which views clips ask for opposite movements, and what became of it."""
    numbers = {reading.clip.key: reading.clip.number for reading in review.readings}
    return tuple(_opposed_words(item, numbers) for item in opposed_movements(review.stands, tables))


def _opposed_words(item: Opposed, numbers: Mapping[str, int]) -> str:
    plus, minus = (words.clips(numbers[key] for key in clips) for clips in (item.plus_clips, item.minus_clips))
    view = item.view.replace("_", " ")
    said = f"{view}: {_STOOD[item.movement, 1]} in {plus}, {_STOOD[item.movement, -1]} in {minus}"
    if item.kept:
        return f"{capital(said)}. Only the one that is much surer is advised: {_STOOD[item.movement, item.kept]}."
    return f"{capital(said)}. Neither is much surer, so neither is advised."


def _place_words(stand: WindowStand, sure_from: float) -> list[str]:
    """Return what all clips of a window say of the place together."""
    sure = [offset_words(one, sure_from) for one in stand.place if stand.has_one_place and one.probability >= sure_from]
    window = stand.window.replace("_", " ")
    return [f"All clips of the {window} window together: {said}." for said in sure]
