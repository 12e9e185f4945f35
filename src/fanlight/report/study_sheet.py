"""The study sheet: everything that was found, with where it comes from."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from fanlight.reference.movements import read_movements
from fanlight.report import words
from fanlight.report.annotate import FrameSource, figure_of
from fanlight.report.band import draw_band
from fanlight.report.causes import cause_blocks
from fanlight.report.colour_settings import colour_facts
from fanlight.report.document import (
    Beside,
    Block,
    Cell,
    Document,
    Facts,
    FanRow,
    Figure,
    Grid,
    Heading,
    Items,
    Paragraph,
    Voice,
)
from fanlight.report.fan import drawn_fans, fan_key
from fanlight.report.followed import follow_up_sheet
from fanlight.report.ladder import LADDER_KEY, drawn_ladders
from fanlight.report.meaning import meaning_blocks
from fanlight.report.measurements import measurement_blocks, symbols_of
from fanlight.report.recognised import recognised_words
from fanlight.report.stands import stand_blocks
from fanlight.report.summary import animal_facts, request_blocks
from fanlight.study import (
    ClipReading,
    Criterion,
    Finding,
    House,
    PhysicalUnit,
    Purpose,
    StudyReview,
    Verdict,
)

_ORDER = (Verdict.MISSED, Verdict.BORDERLINE, Verdict.MET, Verdict.NOT_ASSESSABLE)


def build_study_sheet(
    review: StudyReview,
    criteria: Mapping[str, Criterion],
    titles: dict[str, str],
    citations: Mapping[str, str],
    frames: FrameSource,
    house: House,
    written_at: datetime,
) -> Document:
    """Return the sheet as a document.

    Parameters
    ----------
    review : StudyReview
        The engine's draft.
    criteria : mapping of str to Criterion
        By key.
    titles : dict of str to str
        Title of each view by its key.
    citations : mapping of str to str
        Printed form of each source by its key.
    frames : FrameSource
        Where pictures come from.
    house : House
        Table "valves", for what the group sets for colour.
    written_at : datetime
        Printed on the page.
    """
    blocks: list[Block] = [
        Facts(pairs=(*animal_facts(review), *_facts(review))),
        *request_blocks(review),
        *measurement_blocks(review, citations, symbols_of(house), whole=True),
        *meaning_blocks(review.meaning, citations, whole=True),
        *cause_blocks(review),
        *follow_up_sheet(review),
        *stand_blocks(review, read_movements(house)),
        *_path(review),
        *_study_findings(review, criteria),
    ]
    for reading in review.readings:
        blocks += _clip(reading, criteria, titles, frames, house)
    blocks += _not_used(review)
    blocks += _provenance(review, criteria, citations)
    animal = review.study.identity.animal_name
    return Document(
        key="study-sheet",
        title=f"Study sheet: {animal}" if animal else "Study sheet",
        subtitle=f"examined {words.when(review.study.identity.examined_at)} · {review.study.source}",
        status=words.DRAFT,
        blocks=tuple(blocks),
        caution=words.SUPPORT,
        footer=words.footer(review, written_at),
        small=True,
    )


def _facts(review: StudyReview) -> tuple[tuple[str, str], ...]:
    return (
        ("Plan", f"{review.coverage.plan_title} ({review.coverage.chosen_because})"),
        ("Pictures read", f"{len(review.readings)} of {len(review.study.clips)}"),
    )


def _path(review: StudyReview) -> list[Block]:
    cover = review.coverage
    blocks: list[Block] = [Heading(text="The examination path")]
    if fans := drawn_fans(cover, 9.0):
        blocks.append(FanRow(fans=fans, key=fan_key(cover)))
    if not cover.can_judge_missing:
        numbers = [item.clip.number for item in review.readings if item.clip.key in cover.unplaced]
        blocks.append(
            Paragraph(
                text=f"The view of {words.clips(numbers)} is not known, so nothing is called missing. "
                "Name the views in the request sheet to have the path judged.",
                voice=Voice.ENGINE,
            )
        )
        blocks.append(
            Paragraph(
                lead="The plan asks for:", text="; ".join(step.title for step in cover.steps) + ".", voice=Voice.QUIET
            )
        )
    if recognised := recognised_words(review):
        blocks.append(Paragraph(text=recognised, voice=Voice.ENGINE))
    if ladders := drawn_ladders(cover):
        blocks += [Heading(text="Rungs by valve", level=3), FanRow(fans=ladders, key=LADDER_KEY)]
    notes = [f"{item.valve} valve: {note}" for item in cover.ladders for note in item.notes] + list(cover.order_notes)
    if notes:
        blocks.append(Items(entries=tuple(notes), voice=Voice.ENGINE))
    return blocks


def _study_findings(review: StudyReview, criteria: Mapping[str, Criterion]) -> list[Block]:
    if not review.study_findings:
        return []
    return [Heading(text="The study as a whole"), _findings_grid(review.study_findings, criteria)]


def _source(criterion: Criterion) -> str:
    return f"{criterion.basis}: {criterion.source}" if criterion.source else str(criterion.basis)


def _findings_grid(findings: tuple[Finding, ...], criteria: Mapping[str, Criterion], said: str = "") -> Grid:
    """Return the findings as a table; a note that was `said` above is not said again."""
    rows: list[tuple[Cell, ...]] = []
    ordered = sorted(findings, key=lambda entry: (_ORDER.index(entry.verdict), -criteria[entry.criterion].weight))
    for item in ordered:
        criterion = criteria[item.criterion]
        if item.value is None:
            continue
        target = f"target {words.target(item)} ({_source(criterion)})"
        drawing: Cell = ""
        if item.unit != words.YES_NO:
            alt = f"{words.finding_value(item)}, {target}, {item.verdict}"
            drawing = draw_band(item.value, item.band, item.verdict, alt, item.uncertainty)
        note = f"{target}; sure {100 * item.confidence:.0f} %"
        if item.reason and item.reason != said:
            note += f"; {item.reason}"
        rows.append((criterion.title, words.finding_value(item), drawing, str(item.verdict), note))
    reasons: dict[str, list[str]] = {}
    for item in ordered:
        if item.value is None:
            reasons.setdefault(item.reason, []).append(criteria[item.criterion].title)
    for reason, names in reasons.items():  # one line a reason: a still says once that it has no beats
        rows.append((names[0], "–", "", str(Verdict.NOT_ASSESSABLE), _with_others(names[1:], reason)))
    return Grid(
        head=("Criterion", "Value", "", "Verdict", "Target, source, note"),
        rows=tuple(rows),
        widths=(0.2, 0.14, 0.15, 0.12, 0.39),
    )


def _with_others(names: list[str], reason: str) -> str:
    return f"{reason}; the same for: {', '.join(name[:1].lower() + name[1:] for name in names)}" if names else reason


def _clip(
    reading: ClipReading, criteria: Mapping[str, Criterion], titles: dict[str, str], frames: FrameSource, house: House
) -> list[Block]:
    clip = reading.clip
    kind = "still" if clip.is_still else f"{reading.frames_read} frames"
    blocks: list[Block] = [
        Heading(text=f"Clip {clip.number}: {words.mode(reading.mode)}, {words.view(reading.view, titles)} ({kind})")
    ]
    caption = f"Clip {clip.number}, frame {reading.key_frame + 1}."
    shown = tuple(piece for item in reading.findings if item.verdict is Verdict.MISSED for piece in item.evidence)
    figure: Figure | None = figure_of(frames, clip.key, reading.key_frame, reading.layout, shown, caption, 0.34)
    blocks.append(
        Beside(figure=figure, facts=Facts(pairs=(*_clip_facts(reading), *colour_facts(reading, house)), columns=1))
    )
    judged = tuple(item for item in reading.findings if not criteria[item.criterion].study_level)
    if judged:
        blocks.append(_findings_grid(judged, criteria, said=reading.layout.scale_reason))
    if reading.damage is not None:
        blocks.append(Paragraph(lead="Damaged:", text=str(reading.damage), voice=Voice.CAUTION))
    return blocks


def _clip_facts(reading: ClipReading) -> tuple[tuple[str, str], ...]:
    clip, layout, time = reading.clip, reading.layout, reading.time
    rate = clip.times.rate_hz
    pairs = [
        ("File", f"{clip.name} ({clip.container}, {clip.cols} × {clip.rows})"),
        ("Good for", ", ".join(f"{purpose}: {reading.verdict(purpose)}" for purpose in Purpose)),
        (
            "Mode",
            f"{words.mode(reading.mode)}, {100 * reading.mode.probability:.0f} %: {'; '.join(reading.mode.reasons)}",
        ),
        ("View", f"{reading.view.source}" + (f": {reading.view.reason}" if reading.view.reason else "")),
        ("Picture", layout.picture_reason),
        ("Scale", _scale(reading)),
    ]
    pairs += [(f"Region {place}", _region_words(place, reading)) for place in range(1, len(layout.regions) + 1)]
    if not clip.is_still:
        pairs.append(
            ("Frame times", f"{rate:.1f} a second, from {clip.times.source}" if rate else str(clip.times.source))
        )
        if clip.times.doubts:
            pairs.append(("Doubts", "; ".join(clip.times.doubts)))
        pairs.append(("Beats", _beats(reading)))
        if time.ecg_reason:
            pairs.append(("ECG", time.ecg_reason))
    if layout.notes:
        pairs.append(("Notes", "; ".join(layout.notes)))
    return tuple(pairs)


def _scale(reading: ClipReading) -> str:
    scale = reading.layout.scale
    if scale is None:
        return f"none: {reading.layout.scale_reason}"
    text = f"{scale.mm_per_row_px:.3f} mm a pixel, from {scale.source}"
    if reading.layout.depth_mm is not None:
        text += f"; depth {reading.layout.depth_mm / 10:.1f} cm"
    return f"{text}. {reading.layout.scale_reason}"


def _region_words(place: int, reading: ClipReading) -> str:
    item = reading.layout.regions[place - 1]
    region = item.region
    unit = PhysicalUnit(region.unit_y).name.lower() if region.unit_y in list(PhysicalUnit) else f"unit {region.unit_y}"
    delta = f"{region.delta_y:.4g} {unit} a pixel, " if region.delta_y else ""
    if item.trusted:
        return f"{delta}believed: {item.reason}"
    said = item.reason in reading.layout.scale_reason
    return f"{delta}not believed: {'see the scale' if said else item.reason}"


def _beats(reading: ClipReading) -> str:
    time = reading.time
    if time.beat_period_frames is None:
        return "; ".join(time.reasons) or "not found"
    text = f"{time.complete_beats:.1f} beats, period {time.beat_period_frames:.1f} frames"
    if time.beat_period_ms is not None:
        text += f" = {time.beat_period_ms:.0f} ms"
    if time.heart_rate_bpm is not None:
        text += f" ({time.heart_rate_bpm:.0f} bpm)"
    return f"{text}, from {time.beat_source}; sure {100 * time.confidence:.0f} %"


def _not_used(review: StudyReview) -> list[Block]:
    entries = tuple(str(item) for item in review.refused)
    notes = review.study.notes
    blocks: list[Block] = []
    if review.study.mismatches:
        blocks += [
            Heading(text="Where files disagree: the review cannot be signed"),
            Items(entries=review.study.mismatches, voice=Voice.CAUTION),
        ]
    if entries:
        blocks += [Heading(text="Files not used, or only in part"), Items(entries=entries, voice=Voice.PLAIN)]
    if notes:
        blocks += [Heading(text="Notes of the intake"), Items(entries=notes, voice=Voice.QUIET)]
    return blocks


def _provenance(review: StudyReview, criteria: Mapping[str, Criterion], citations: Mapping[str, str]) -> list[Block]:
    stages = sorted({(item.source.stage, item.source.version) for entry in review.readings for item in entry.findings})
    lines = [
        f"Engine {review.engine_version}; house settings {review.house}; study {review.study.key}.",
        "Stages: " + ", ".join(f"{stage} {version}" for stage, version in stages) + "." if stages else "No stage ran.",
    ]
    if review.house_own_rows:
        lines.append("Changed by the group: " + ", ".join(review.house_own_rows) + ".")
    used = {item.criterion for entry in review.readings for item in entry.findings}
    keys = sorted({criteria[key].source for key in used if criteria[key].source})
    blocks: list[Block] = [Heading(text="Where this comes from"), Items(entries=tuple(lines), voice=Voice.QUIET)]
    if keys:
        sources = tuple(f"{key}: {citations.get(key, 'source not listed')}" for key in keys)
        blocks += [Heading(text="Sources", level=3), Items(entries=sources, voice=Voice.QUIET)]
    return blocks
