"""Re-fitted probabilities of causes, in words and as a house file."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING

from fanlight.reference.cause_priors import prior_key
from fanlight.reference.causes import AnimalFact, CauseRow
from fanlight.report import words
from fanlight.study.sentence import capital

if TYPE_CHECKING:
    from fanlight.coach.refit import Agreement, Outweighed, Refit, Share

_DIGITS = 4  # significant ones: far finer than any interval here


def refit_words(item: Refit, title: str) -> str:
    """Return one probability: as shipped, re-fitted with its interval, and what it rests on."""
    studies = words.count(item.n_studies, "study", "studies")
    return (
        f"{capital(title)}{_where(item.fact)}: {item.shipped:.3g} as shipped, "
        f"{item.fitted:.3g} ({item.low:.3g} to {item.high:.3g}) now; through {item.n_named} of {studies}."
    )


def outweighed_words(item: Outweighed, title: str) -> str:
    """Return a probability that one study would outweigh, and that it stays as shipped for that."""
    studies = words.count(item.n_studies, "study", "studies")
    return (
        f"{capital(title)}{_where(item.fact)}: through {item.n_named} of {studies}; stays at {item.shipped:.3g} as "
        f"shipped, which counts for {item.worth_studies:.2g} of a study, so that one would outweigh it."
    )


def _where(fact: AnimalFact | None) -> str:
    return f", where the sheet says {fact_words(fact)}" if fact else ""


def fact_words(fact: AnimalFact) -> str:
    """Return a fact of the animal as words."""
    return fact.value.replace("_", " ")


def count_words(title: str, n_asked: int, n_through: int, n_some: int) -> str:
    """Return how often a cause was named whose probability stays as shipped."""
    studies = words.count(n_asked, "study", "studies")
    return f"{capital(title)}: through {n_through} of {studies}, in single clips of {n_some}; stays as shipped."


def agreement_lines(found: Agreement) -> Iterator[str]:
    """Yield how far what was said first agrees with what the engine held more likely than not."""
    if found.n_studies == 0:
        yield "Agreement: not known; no draft that was covered is kept."
        return
    studies = words.count(found.n_studies, "study", "studies")
    yield f"Agreement with what the engine held more likely than not (it proposes fewer), {studies}:"
    yield f"  causes that a person named and the engine held likely: {_share(found.named_too)}"
    yield f"  causes that the engine held likely and a person named: {_share(found.said_too)}"
    yield f"  studies in which both are the same causes: {_share(found.same)}"


def _share(share: Share) -> str:
    if share.of == 0:
        return "none to count"
    low, high = share.interval
    return f"{share.n} of {share.of}, {100 * share.n / share.of:.0f} % ({100 * low:.0f} to {100 * high:.0f})"


def house_fragment(fitted: Iterable[Refit], shipped: Mapping[str, CauseRow], whose: str) -> str:
    """Return the rows of a house file: what causes go by, and where it comes from.

    Parameters
    ----------
    fitted : iterable of Refit
        Each probability once.
    shipped : mapping of str to CauseRow
        For the titles.
    whose : str
        Of whom the studies are: "this practice".
    """
    by_cause: dict[str, list[Refit]] = defaultdict(list)
    for item in fitted:
        by_cause[item.cause].append(item)
    lines = [
        "# How likely each cause is before anything was seen, re-fitted by fanlight priors. A house file, or a part of",
        "# one: tables of the same name are put together. What is not named here stays as shipped.",
    ]
    for cause, items in by_cause.items():
        lines += ["", f"# {shipped[cause].title}"]
        lines += [f"[causes.causes.{cause}]"]
        lines += [f"before = {_number(item.fitted)}" for item in items if item.fact is None]
        facts = [f"{item.fact.value} = {_number(item.fitted)}" for item in items if item.fact is not None]
        lines += [f"before_if = {{ {', '.join(facts)} }}"] if facts else []
        for item in items:
            studies = words.count(item.n_studies, "study", "studies")
            lines += [
                "",
                f'[cause_priors.fitted."{prior_key(cause, item.fact)}"]',
                f"before = {_number(item.fitted)}",
                f"low = {_number(item.low)}",
                f"high = {_number(item.high)}",
                f"n_studies = {item.n_studies}",
                f"n_named = {item.n_named}",
                f'said = "from {studies} of {whose} judged before proposals were shown"',
            ]
    return "\n".join(lines) + "\n"


def _number(value: float) -> str:
    """Return a number as TOML writes one: never without a point."""
    text = f"{value:.{_DIGITS}g}"
    return text if "." in text or "e" in text else f"{text}.0"
