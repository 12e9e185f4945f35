"""The feedback letter to the trainee: what would change most, what is right, the few things that matter in pictures."""

from __future__ import annotations

from datetime import datetime

from fanlight.coach.retakes import LABOURED, STOP
from fanlight.reference.letter import ExcerptLimits
from fanlight.report import words
from fanlight.report.annotate import FrameSource, figure_of
from fanlight.report.band import draw_band
from fanlight.report.causes import chosen_blocks, correction_blocks
from fanlight.report.cited import mentor_block, praised_block
from fanlight.report.document import Advice, Block, Document, FanRow, Figure, Heading, Items, Paragraph, Voice
from fanlight.report.doppler_words import caution_of_spectra, lacking_rungs, rung_notes
from fanlight.report.fan import drawn_fans, fan_key
from fanlight.report.followed import follow_up_blocks, praise_lines, record_words
from fanlight.report.ladder import LADDER_KEY, drawn_ladders
from fanlight.report.mentor import (
    MentorWords,
    closed_by,
    exercise_blocks,
    finding_blocks,
    opening_blocks,
    since_last_blocks,
)
from fanlight.report.movement.shown import NO_MOVEMENTS, Movements
from fanlight.report.passage import Passage, passage_of
from fanlight.report.recognised import recognised_words
from fanlight.report.shown import shown_blocks
from fanlight.report.unconfirmed import look_again_blocks
from fanlight.study import (
    Breathing,
    ClipReading,
    ClipVerdict,
    Evidence,
    Finding,
    Mode,
    Priority,
    Purpose,
    StudyReview,
    Verdict,
    about_criterion,
)
from fanlight.study.sentence import capital


def build_letter(
    review: StudyReview, frames: FrameSource, written_at: datetime, mentor: MentorWords | None = None,
    excerpts: ExcerptLimits | None = None, movements: Movements = NO_MOVEMENTS,
) -> Document:  # fmt: skip
    """Return the letter as a document.

    Parameters
    ----------
    review : StudyReview
        The engine's draft, or what the mentor made of it.
    frames : FrameSource
        Where pictures come from.
    written_at : datetime
        Printed on the letter.
    mentor : MentorWords, optional
        What the mentor adds, to a review that holds decided findings only; None: the engine's draft.
    excerpts : ExcerptLimits, optional
        The letter names the passages that `with_excerpts` cuts out; None: it holds stills only.
    movements : mapping of str to MovementShown, optional
        Pictures of the movements that the letter asks for, by the cause of the change.
    """
    request = review.study.request
    blocks: list[Block] = [*_opening(review, mentor)]
    blocks += (
        chosen_blocks(mentor.changes, mentor.change_causes, movements)
        if mentor
        else correction_blocks(review, movements)
    )
    blocks += since_last_blocks(mentor, praise_lines(review)) if mentor else follow_up_blocks(review)
    blocks += _right(review)
    blocks += praised_block(review, excerpts)
    blocks += _path(review)
    blocks += _points(review, frames, excerpts, is_decided=mentor is not None)
    blocks += shown_blocks(mentor.shown, mentor.views_max) if mentor else []
    blocks += finding_blocks(mentor) + mentor_block(review, mentor, excerpts) if mentor else []
    blocks += look_again_blocks(review.unconfirmed)
    blocks += _fold(review)
    blocks += _coverage(review)
    blocks += caution_of_spectra(review)
    blocks += _asked(review)
    blocks += exercise_blocks(mentor) if mentor else []
    animal = review.study.identity.animal_name
    letter = Document(
        key="letter",
        title=f"Feedback on the scan of {animal}" if animal else "Feedback on the scan",
        subtitle=" · ".join(
            part
            for part in (
                f"for {request.trainee}" if request.trainee else "",
                f"examined {words.when(review.study.identity.examined_at)}",
                f"{words.count(len(review.readings), 'still or clip', 'stills and clips')} read",
            )
            if part
        ),
        status=words.DRAFT,
        blocks=tuple(blocks),
        caution=words.SUPPORT,
        footer=words.letter_footer(review, written_at),
    )
    return closed_by(letter, mentor) if mentor else letter


def _opening(review: StudyReview, decided: MentorWords | None) -> list[Block]:
    mentor = review.study.request.mentor
    who = f"{mentor} decides" if mentor else "The mentor decides"
    blocks: list[Block] = []
    if review.study.request.breathing is Breathing.DISTRESSED:
        blocks.append(Paragraph(text=STOP, voice=Voice.CAUTION))
    elif review.study.request.breathing is Breathing.LABOURED:
        blocks.append(Paragraph(text=LABOURED, voice=Voice.CAUTION))
    if decided is not None:
        return [*blocks, *opening_blocks(decided)]
    return [
        *blocks,
        Paragraph(
            text=f"Proposals from the pictures. {who} what stands: each can be accepted, changed or thrown out.",
            voice=Voice.QUIET,
        ),
    ]


def _path(review: StudyReview) -> list[Block]:
    fans, ladders = drawn_fans(review.coverage, 10.0), drawn_ladders(review.coverage)
    rows = [FanRow(fans=fans, key=fan_key(review.coverage))] if fans else []
    return [*rows, FanRow(fans=ladders, key=LADDER_KEY)] if ladders else [*rows]


def _right(review: StudyReview) -> list[Block]:
    if not review.strengths:
        return []
    numbers = {item.clip.key: item.clip.number for item in review.readings}
    entries = []
    for item in review.strengths:
        where = words.clips(numbers[key] for key in item.clips)
        all_of_them = len(item.clips) == len(review.readings)
        entries.append(item.words if not item.clips or all_of_them else f"{item.words} ({where})")
    return [Heading(text="What is right"), Items(entries=tuple(entries), voice=Voice.ENGINE)]


def _evidence(reading: ClipReading, criterion: str) -> tuple[tuple[Evidence, ...], int, Finding | None]:
    for item in reading.findings:
        if item.criterion == criterion and item.verdict is Verdict.MISSED:
            named = [*(piece.frame for piece in item.evidence if piece.frame is not None), *item.frames]
            return item.evidence, named[0] if named else reading.key_frame, item
    return (), reading.key_frame, None


def _point(
    number: int, item: Priority, review: StudyReview, frames: FrameSource, excerpts: ExcerptLimits | None
) -> Advice:
    figure: Figure | None = None
    moving: Passage | None = None
    band, value = None, ""
    where = "the study as a whole"
    if item.clips:
        numbers = [reading.clip.number for reading in review.readings if reading.clip.key in item.clips]
        where = words.clips(numbers)
    if record := record_words(review.follow_up, about_criterion(item.criterion, item.side)):
        where = f"{where}; {record}"
    if item.worst_clip:
        reading = review.reading(item.worst_clip)
        evidence, frame, finding = _evidence(reading, item.criterion)
        caption = f"Clip {reading.clip.number}, frame {frame + 1}"
        if finding is not None and finding.value is not None:
            value = f"clip {reading.clip.number}: {words.finding_value(finding)}; target {words.target(finding)}"
            if finding.unit == words.YES_NO:
                value = ""  # the point itself says it
            else:
                band = draw_band(finding.value, finding.band, finding.verdict, value, finding.uncertainty)
        if excerpts is not None and finding is not None:
            moving = passage_of(reading, frame, evidence, item.title, excerpts)
        if evidence:  # a picture that shows nothing of the point would only take room
            figure = figure_of(frames, item.worst_clip, frame, reading.layout, evidence, caption, 0.31)
    return Advice(
        number=number,
        title=item.title,
        where=where,
        means=item.means,
        cause=words.first_sentences(item.cause, 2),
        correction=item.correction,
        withheld=item.withheld,
        figure=figure,
        value=value,
        band=band,
        moving=moving,
    )


def _points(
    review: StudyReview, frames: FrameSource, excerpts: ExcerptLimits | None, *, is_decided: bool
) -> list[Block]:
    if not review.priorities and is_decided:
        return []  # the mentor's own words follow; silence of the engine is no praise
    if not review.priorities:
        return [
            Heading(text="What matters most"),
            Paragraph(text=_nothing_missed(review), voice=Voice.ENGINE),
        ]
    points = [_point(place, item, review, frames, excerpts) for place, item in enumerate(review.priorities, start=1)]
    return [Heading(text="What matters most"), *points]


def _nothing_missed(review: StudyReview) -> str:
    """Say that nothing was missed, without gainsaying what stands above."""
    if not review.corrections:
        return "No criterion that could be judged was missed."
    above = "what is" if len(review.corrections) == 1 else "the changes that are"
    return f"Beside {above} asked for above, no criterion that could be judged was missed."


def _fold(review: StudyReview) -> list[Block]:
    """All clips in a line a verdict: no clip is passed over, none takes more room than it needs."""
    groups: dict[str, list[int]] = {}
    for item in review.readings:
        groups.setdefault(_verdict_words(item), []).append(item.clip.number)
    order = sorted(groups, key=lambda word: groups[word][0])
    text = "; ".join(f"{words.clips(groups[word])}: {word}" for word in order)
    text = capital(text)
    return [Heading(text="Every clip"), Paragraph(text=f"{text}.", voice=Voice.ENGINE)] if order else []


def _verdict_words(item: ClipReading) -> str:
    if item.mode.mode is Mode.NO_CONTACT:
        return "no patient contact"
    if item.mode.mode is None:
        return "mode not sure, not judged"
    look, measure, doppler = (item.verdict(each) for each in (Purpose.LOOK, Purpose.MEASURE, Purpose.DOPPLER))
    of_flow = "" if doppler is ClipVerdict.NOT_ASSESSABLE else f"{doppler} for Doppler"
    if look is ClipVerdict.NOT_ASSESSABLE:
        return of_flow or f"{words.mode(item.mode)}, not judged yet"
    said = f"{look} to look at and to measure" if look == measure else f"{look} to look at, {measure} to measure"
    return f"{said}, {of_flow}" if of_flow else said


def _coverage(review: StudyReview) -> list[Block]:
    cover = review.coverage
    lines = []
    if cover.can_judge_missing:
        missing = [f"{step.title}: {', '.join(step.missing)}" for step in cover.steps if step.missing]
        lacking = lacking_rungs(cover)
        if missing:
            lines.append("Asked for by the plan and not found: " + "; ".join(missing) + ".")
        if lacking:
            lines.append(lacking)
        if not missing and not lacking:
            so_far = ", as far as views were recognised" if review.recognised else ""
            lines.append(f"Everything that the plan asks for was stored{so_far}.")
    elif cover.unplaced:
        numbers = [item.clip.number for item in review.readings if item.clip.key in cover.unplaced]
        lines.append(
            f"Which view {words.clips(numbers)} show{'s' if len(numbers) == 1 else ''} is not known, "
            f"so nothing is called missing from the plan “{cover.plan_title}”."
        )
    lines += [*rung_notes(cover), *cover.order_notes]
    if recognised := recognised_words(review):
        lines.append(recognised)
    if not lines:
        return []
    return [Heading(text="The examination path"), Items(entries=tuple(lines), voice=Voice.ENGINE)]


def _asked(review: StudyReview) -> list[Block]:
    blocks: list[Block] = []
    if review.asked_for:
        blocks.append(Paragraph(lead="Still to be told:", text=", ".join(review.asked_for) + ".", voice=Voice.ENGINE))
    if review.study.mismatches:
        blocks.append(
            Paragraph(
                lead="Files disagree, so this cannot be signed:",
                text=f"{words.differing(review.study.mismatches)}; the study sheet lists which.",
                voice=Voice.CAUTION,
            )
        )
    return blocks
