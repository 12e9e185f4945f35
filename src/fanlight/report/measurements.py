"""The numbers of a study on paper: each value, the interval it lies in, what it stands on, or why there is none."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import replace

from fanlight.measure.marked import GIVEN_BY
from fanlight.reference.quantities import read_quantities
from fanlight.report import words
from fanlight.report.change import OTHER_CAUSES, told_changes, with_changes
from fanlight.report.document import Block, Drawing, Grid, Heading, Items, Paragraph, Voice
from fanlight.report.doppler_words import LOWER_BOUND, SOURCE, has_flow
from fanlight.report.interval import draw_interval
from fanlight.report.shared_notes import SharedNotes, share_notes
from fanlight.study import ENGINE, House, IntervalReading, Measurement, ReferenceKind, StudyReview
from fanlight.study.sentence import capital
from fanlight.validity.measured import is_bound

_ON_SHEET = (
    "What else the engine measured, or worked out from marks, stands on the study sheet only: it has not been right "
    "often enough, on enough animals that nobody tuned it on, to stand here."
)

_NOT_HERE = (
    "The engine measured numbers too, or made them of marks. Those that are left out here have not been right often "
    "enough, on enough animals that nobody tuned them on."
)
_BUT_BELOW = " What held on simulated animals is named below, as not confirmed."
_UNDECIDED = (
    " Where the mentor has not decided on a finding that such a number stands on, the engine's own counts; a number "
    "that it refuses or bounds says so."
)
_NONE_HELD = "No measurement came with the study. Why strips and marks gave no number stands on the study sheet."
_NONE_CAME = "No measurement came with the study."
_AS_GIVEN = "Numbers that came with the study stand as they were given."
_SAY_THEIRS = " Those of the engine say what they stand on."
_BEST_CLIP = (
    "Of several clips the one that holds best gives a number; the row tells what the others gave, and the file of the "
    "review (review.json) how each was taken."
)
_OF_MARKS = (
    "± of what was marked by hand is one standard deviation of marks set to one pixel; a hasty hand errs by more. How "
    "often such numbers are right was measured on simulated animals."
)
_NEXT_REMARK = re.compile(r"; (?=(?:note|at least|at most): )")  # a remark may hold a semicolon itself


def symbols_of(house: House) -> dict[str, str]:
    """Return how each quantity is written, by its key in the tables."""
    return {key: quantity.symbol for key, quantity in read_quantities(house).items()}


def measurement_blocks(
    review: StudyReview,
    citations: Mapping[str, str],
    symbols: Mapping[str, str],
    *,
    whole: bool = False,
    is_decided: bool = False,
) -> list[Block]:
    """Return the measurements, each in its interval, with the sources that spoke.

    Parameters
    ----------
    whole : bool
        With their doubts, as on the study sheet.
    is_decided : bool
        On a mentor's paper, beside which no study sheet lies.
    """
    blocks: list[Block] = [Heading(text="Measurements and what they mean")]
    told = tuple(item for item in review.measurements if item.rank <= 1 and (whole or not item.sheet_only))
    told = told if whole else tuple(item for item in told if not _is_told_of(item, told, symbols))
    if any(item.sheet_only and item.value is not None for item in review.measurements) and not whole:
        but = _BUT_BELOW if review.unconfirmed.numbers else ""
        blocks.append(Paragraph(text=f"{_NOT_HERE if is_decided else _ON_SHEET}{but}", voice=Voice.QUIET))
    changes = told_changes(review.meaning.changes, whole=whole)
    if not review.measurements:
        blocks.append(
            Paragraph(text="No measurement came with the study, and no strip of it was measured.", voice=Voice.ENGINE)
        )
        return blocks
    if not told:
        none = Paragraph(text=_NONE_CAME if is_decided else _NONE_HELD, voice=Voice.ENGINE)
        return blocks if len(blocks) > 1 else [*blocks, none]
    together = _refused_together(with_changes(told, changes))
    notes = share_notes(_remarks(item) for item in together if item.value is not None) if whole else SharedNotes(())
    rows = tuple(row for item in together for row in _measurement_rows(item, symbols, whole, notes))
    blocks.append(
        Grid(head=("Quantity", "Value", "", "Meaning, and by which source"), rows=rows, widths=(0.2, 0.13, 0.15, 0.52))
    )
    if notes.remarks:
        blocks.append(Items(entries=notes.lines(), voice=Voice.QUIET))
    if any(item.rank > 1 for item in review.measurements) and whole:
        blocks.append(Paragraph(text=_BEST_CLIP, voice=Voice.QUIET))
    if not whole and (marked := tuple(item for item in told if item.given_by == GIVEN_BY and item.stands_on)):
        blocks += standing_blocks(marked, symbols)
        blocks.append(Paragraph(text=_OF_MARKS, voice=Voice.QUIET))
    theirs = f"{_SAY_THEIRS}{_UNDECIDED if is_decided else ''}" if any(_is_ours(item) for item in told) else ""
    blocks.append(
        Paragraph(
            text=f"{_AS_GIVEN}{theirs} Whether a picture allows its number, the mentor decides.", voice=Voice.QUIET
        )
    )
    if changes:
        blocks.append(Paragraph(text=OTHER_CAUSES, voice=Voice.CAUTION))
    if has_flow(told):
        blocks.append(Paragraph(text=LOWER_BOUND, voice=Voice.CAUTION))
    used = {reading.citation for item in told for reading in item.readings if reading.applies and reading.citation}
    used |= {reading.repeat_citation for item in told for reading in item.readings if reading.repeat_citation}
    used |= {item.citation for item in changes if item.citation}
    if has_flow(told):
        used.add(SOURCE)
    sources = tuple(f"{key}: {citations.get(key, 'source not listed')}" for key in sorted(used))
    if sources:
        blocks += [Heading(text="Sources", level=3), Items(entries=sources, voice=Voice.QUIET)]
    return blocks


def _is_told_of(item: Measurement, told: Iterable[Measurement], symbols: Mapping[str, str]) -> bool:
    """Whether a mark's plain reading stands there as a quantity already, whose error is the larger one."""
    mark = "" if item.name or item.given_by != GIVEN_BY else item.label.rpartition(": ")[0]
    return bool(mark) and any(
        each.name
        and each.value is not None
        and each.clip == item.clip
        and (mark in (each.label, symbols.get(each.name)) or each.label.startswith(f"{mark},"))
        for each in told
    )


def standing_blocks(measured: Iterable[Measurement], symbols: Mapping[str, str]) -> list[Block]:
    """Return what numbers of the summary stand on, said once for all that share it; nothing where nothing is said."""
    alike: dict[str, dict[str, None]] = {}
    for item in measured:
        if item.value is not None and item.validity:
            alike.setdefault(item.validity, {})[symbols.get(item.name, item.label)] = None
    lines = tuple(
        f"What {', '.join(names)} stand{'s' if len(names) == 1 else ''} on: {said.removeprefix('note: ')}."
        for said, names in alike.items()
    )
    return [Items(entries=lines, voice=Voice.QUIET)] if lines else []


def _is_ours(item: Measurement) -> bool:
    return item.given_by == ENGINE


def _refused_together(measurements: Iterable[Measurement]) -> list[Measurement]:
    """Return the measurements; those without a value for one reason make one line, where the first of them stood."""
    found: dict[object, list[Measurement]] = {}
    for place, item in enumerate(measurements):
        key = (item.given_by, item.reason) if item.value is None and (_is_ours(item) or item.reason) else place
        found.setdefault(key, []).append(item)
    return [_as_one(items) for items in found.values()]


def _as_one(items: list[Measurement]) -> Measurement:
    if len(items) == 1:
        return items[0]
    by_clip: dict[str, dict[str, None]] = {}
    for item in items:
        by_clip.setdefault(item.clip, {})[item.label] = None
    if len({tuple(labels) for labels in by_clip.values()}) == 1:  # all clips refuse the same
        labels = ", ".join(by_clip[items[0].clip])
        return replace(items[0], label=labels, clip=", ".join(filter(None, by_clip)))
    told = (f"{', '.join(labels)} [{clip}]" if clip else ", ".join(labels) for clip, labels in by_clip.items())
    return replace(items[0], label="; ".join(told), clip="")


def _remarks(item: Measurement) -> tuple[str, ...]:
    return (*_stands_on(item), *_taken(item))


def _stands_on(item: Measurement) -> tuple[str, ...]:
    return tuple(_NEXT_REMARK.split(item.validity)) if item.validity else ()


def _taken(item: Measurement) -> tuple[str, ...]:
    return tuple(item.method.split("; ")) if item.method and item.validity else ()


def _measurement_rows(
    item: Measurement, symbols: Mapping[str, str], whole: bool, notes: SharedNotes
) -> list[tuple[str | Drawing, ...]]:
    value = "–" if item.value is None else words.with_error(item.value, item.unit, item.uncertainty)
    where = f", {item.clip}" if item.clip else ""
    written = symbols.get(item.label, item.label)  # a sheet may name a quantity by its key
    first: tuple[str, str] = (f"{written} ({item.giver}{where})", value)
    shown = [reading for reading in item.readings if reading.applies]
    silent = [reading for reading in item.readings if not reading.applies]
    if item.value is None and (_is_ours(item) or item.reason):
        return [(*first, "", f"{capital(item.reason)}.")]
    if not shown:
        own = "" if _is_ours(item) else item.reason  # the engine's reason tells how it was measured
        if is_bound(item):
            own = "a bound lies in no interval"
        reason = own or (silent[0].reason if silent else "")
        said = f"No reference applies: {reason}." if reason else "No reference row for this quantity."
        said = _with_validity(said, item, whole, notes)
        return [(*first, "", _with_others(said, item))]
    rows: list[tuple[str | Drawing, ...]] = []
    for place, reading in enumerate(shown):
        label = first if place == 0 else ("", "")
        text = _meaning(reading, whole)
        if place == 0:
            text = _with_others(_with_validity(text, item, whole, notes), item)
        rows.append((*label, _interval_drawing(item, reading), text))
    return rows


def meaning_of(item: Measurement) -> str:
    """Return what the first published row says of a number, in a sentence, or why none speaks."""
    if is_bound(item):
        return "A bound lies in no interval."
    shown = next((reading for reading in item.readings if reading.applies), None)
    if shown is not None:
        return _meaning(shown, whole=False)
    silent = next((reading.reason for reading in item.readings), "")
    return f"No reference applies: {silent}." if silent else "No reference row for this quantity."


def _with_validity(text: str, item: Measurement, whole: bool, notes: SharedNotes) -> str:
    """Return a meaning with what the number stands on: all of it where there is room, else what makes it a bound."""
    if not item.validity or not (whole or is_bound(item)):
        return text
    if own := notes.own(_stands_on(item)):
        text = f"{text} What it stands on: {'; '.join(own)}."
    if whole and (own := notes.own(_taken(item))):
        text = f"{text} How it was taken: {'; '.join(own)}."
    if whole and item.reason:
        text = f"{text} {capital(item.reason)}."
    letters = notes.letters(_remarks(item))
    return f"{text} Notes {', '.join(letters)} below." if letters else text


def _with_others(text: str, item: Measurement) -> str:
    """Return a meaning with what other clips gave of the same number."""
    return f"{text} {capital(item.beside)}." if item.beside else text


def _interval_drawing(item: Measurement, reading: IntervalReading) -> Drawing | str:
    if (
        item.value is None
        or (reading.lower is None and reading.upper is None)
        or not _same_unit(reading.unit, item.unit)
    ):
        return ""
    return draw_interval(
        item.value,
        reading.lower,
        reading.upper,
        solid=reading.kind is ReferenceKind.REFERENCE_INTERVAL,
        words=f"{reading.words} {reading.repeat_words}".rstrip(),
        repeat=_repeat_of(reading),
    )


def _repeat_of(reading: IntervalReading) -> tuple[float, float] | None:
    if reading.repeat_lower is None or reading.repeat_upper is None:
        return None
    return reading.repeat_lower, reading.repeat_upper


def _same_unit(one: str, other: str) -> bool:
    # A ratio may be written without a unit, and so may an index by weight.
    return (one or "1") == (other or "1") or (one.startswith("cm/kg^") and other in ("", "1"))


def _meaning(reading: IntervalReading, whole: bool) -> str:
    text = reading.words or reading.reason
    if not whole:
        text = words.first_sentences(text, 1)
    if reading.z is not None and "z " not in text:
        text += f" (z {reading.z:+.1f})"
    text = f"{text} [{reading.citation}]" if reading.citation and reading.citation not in text else text
    # That a value and a limit cannot be told apart is never left out; that nobody published a spread, where room is.
    return f"{text} {reading.repeat_words}".rstrip() if whole or _repeat_of(reading) is not None else text
