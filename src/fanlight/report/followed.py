"""What became of earlier advice on paper: praise first, then what is still there, each with its real record."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from fanlight.report import words
from fanlight.report.document import Block, Grid, Heading, Items, Paragraph, Voice
from fanlight.study import FollowedAdvice, FollowUp, MetNow, Outcome, StudyReview
from fanlight.study.sentence import capital

_HOW = (
    "Mended: its criteria are met now in clips of each kind (mode and view) in which they were missed, and all of them "
    "could be judged; partly mended: that holds of some. Not to be told: no such clip was stored, or none on which it "
    "could be judged."
)


def follow_up_blocks(review: StudyReview) -> list[Block]:
    """Return the letter's part: what was missed last time and is met now, then what is not mended."""
    lines = follow_up_lines(review)
    if not lines:
        return []
    return [Heading(text=_heading(review.follow_up)), Items(entries=lines, voice=Voice.ENGINE)]


def follow_up_lines(review: StudyReview) -> tuple[str, ...]:
    """Return a sentence for each praise and each advice of the last study that is not mended, or not all of it."""
    found, numbers = review.follow_up, _numbers(review)
    left = [item for item in found.advice if item.outcome not in (None, Outcome.MENDED)]
    return (*praise_lines(review), *(_left(item, numbers) for item in left))


def praise_lines(review: StudyReview) -> tuple[str, ...]:
    """Return what was advised or missed last time and is met now, less what the mentor has spoken of."""
    found, numbers = review.follow_up, _numbers(review)
    mended = [item for item in found.advice if item.outcome is Outcome.MENDED]
    # What a person said goes before the findings: no praise stands beside a mentor's "not mended".
    spoken = [item for item in found.advice if item.outcome is Outcome.MENDED or item.is_said]
    said = {criterion for item in spoken for criterion, _ in item.advice.signs}
    met = {item.criterion: item for item in found.met_now}
    return (
        *(_praise(item, met, numbers) for item in mended if not item.is_said),
        *(_met(item, numbers) for item in found.met_now if item.criterion not in said),
    )


def record_words(found: FollowUp, about: str) -> str:
    """Return the record of an advice that is given again, "" for a new one: "given in 3 studies, mended in 1"."""
    item = found.record(about)
    return "" if item is None else _record(item)


def follow_up_sheet(review: StudyReview) -> list[Block]:
    """Return the study sheet's table of everything that earlier studies advised."""
    found, numbers = review.follow_up, _numbers(review)
    if not found.advice and not found.not_followed:
        return []
    blocks: list[Block] = [Heading(text="Advice of earlier studies")]
    if found.advice:
        rows = tuple(_row(item, numbers) for item in found.advice)
        head = ("Advice", "In this study", "Tried in", "Record")
        blocks += [Grid(head=head, rows=rows, widths=(0.4, 0.2, 0.15, 0.25)), Paragraph(text=_HOW, voice=Voice.QUIET)]
    if found.not_followed:
        blocks.append(Items(entries=found.not_followed, voice=Voice.QUIET))
    return blocks


def _heading(found: FollowUp) -> str:
    return "Since the last study" if found.since is None else f"Since the study of {words.when(found.since)}"


def _numbers(review: StudyReview) -> dict[str, int]:
    return {item.clip.key: item.clip.number for item in review.readings}


def _praise(item: FollowedAdvice, met: Mapping[str, MetNow], numbers: Mapping[str, int]) -> str:
    views = dict.fromkeys(
        view for criterion, _ in item.advice.signs if criterion in met for view in met[criterion].views
    )
    place = _place(tuple(views), item.tried_in, numbers)
    return f"{item.advice.title}: advised last time, mended now{place}. Well done."


def _met(item: MetNow, numbers: Mapping[str, int]) -> str:
    return f"{item.words} Missed last time, met now{_place(item.views, item.clips, numbers)}."


def _place(views: Iterable[str], clips: Iterable[str], numbers: Mapping[str, int]) -> str:
    named = "; ".join(views)
    shown = tuple(numbers[key] for key in clips)
    return (f": {named}" if named else "") + (f" ({words.clips(shown)})" if shown else "")


def _left(item: FollowedAdvice, numbers: Mapping[str, int]) -> str:
    clips = f" ({words.clips(numbers[key] for key in item.tried_in)})" if item.tried_in else ""
    return f"{item.advice.title}: {_what_is_left(item, clips)}. {capital(_record(item))}."


def _what_is_left(item: FollowedAdvice, clips: str) -> str:
    if item.outcome is Outcome.NOT_TOLD:
        return "whether it is mended cannot be told, since no clip shows it"
    if item.outcome is Outcome.OVERDONE:
        return f"too much of it now, missed on the other side{clips}"
    if item.outcome is Outcome.BORDERLINE:
        return f"better, and borderline now{clips}"
    if item.outcome is Outcome.PARTLY:
        return f"partly mended{clips}{_parts(item)}"
    return f"still there{clips}"


def _parts(item: FollowedAdvice) -> str:
    """Return what is met, what is not, and what is missing for a whole answer; a person's word stands by itself."""
    parts = (
        (item.met_in, "met now: {}"), (item.left_in, "not yet: {}"), (item.not_judged_in, "not enough to tell: {}"),
    )  # fmt: skip
    told = "; ".join(said.format(", ".join(where)) for where, said in parts if where)
    return f"; {told}" if told else ""


def _record(item: FollowedAdvice) -> str:
    """Say how often it was given before and mended in the study that came next."""
    told = item.given - item.not_told
    studies = words.count(item.given, "earlier study", "earlier studies")
    if not told:
        return f"given in {studies}, never to be told whether it was mended"
    partly = f", better or in part in {item.partly}" if item.partly else ""
    unsure = f", not to be told in {item.not_told}" if item.not_told else ""
    return f"given in {studies}, mended in {item.mended or 'none'}{partly}{unsure}"


def _row(item: FollowedAdvice, numbers: Mapping[str, int]) -> tuple[str, ...]:
    now = "not among the advice of the last study" if item.outcome is None else item.outcome.value
    now += _parts(item) if item.outcome is Outcome.PARTLY else ""
    tried = words.clips(numbers[key] for key in item.tried_in) if item.tried_in else "–"
    return (f"{item.advice.title}: {item.advice.correction}", now, tried, _record(item))
