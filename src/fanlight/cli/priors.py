"""`fanlight priors`: how likely each cause is, re-fitted from studies that were judged before proposals were shown."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fanlight.cli.exit_code import ExitCode
from fanlight.cli.options import HouseFile, Json
from fanlight.cli.prior_words import agreement_lines, count_words, house_fragment, outweighed_words, refit_words
from fanlight.cli.reading import read_house
from fanlight.cli.screen import OUT, fail
from fanlight.cli.store import Data, existing_store
from fanlight.reference.cause_priors import read_cause_priors, read_refit_settings
from fanlight.reference.causes import CauseRow, read_causes
from fanlight.reference.load import load_house
from fanlight.report import words
from fanlight.study import House, name_key

if TYPE_CHECKING:
    from fanlight.coach.refit import JudgedStudy, Outweighed, Refit
    from fanlight.store import BlindStudy


def priors(
    name: Annotated[str, typer.Argument(help="Practice, as its request sheets name it; all when not given.")] = "",
    data: Data = None,
    house_file: HouseFile = None,
    out: Annotated[
        Path | None, typer.Option("--out", help="House file to write the re-fitted rows to; a name not used yet.")
    ] = None,
    as_json: Json = False,
) -> None:
    """Re-fit how likely each cause is beforehand, from studies judged before any proposal was shown, and no others.

    Beside it: how often what was said then agrees with what the engine held more likely than not. A shipped probability
    counts as so many studies as the House says; one that counts for less than one study, and one below the least number
    of judged studies, stays as it is.
    """
    from fanlight.coach.refit import TooFewStudiesError, agreement, outweighed, refit
    from fanlight.store import StoreError, blind_studies, open_store
    from fanlight.study.codec import to_plain

    if out is not None and out.exists():
        raise fail(f"--out {out}: there is such a file. Name one that is not there yet.", ExitCode.SETTINGS)
    house = read_house(house_file)
    settings, shipped = read_refit_settings(house), read_causes(load_house())
    try:
        with open_store(existing_store(data)) as opened:
            kept = blind_studies(opened)
    except StoreError as error:
        raise fail(str(error), ExitCode.SETTINGS) from error
    kept = tuple(item for item in kept if name_key(name) in ("", name_key(item.practice)))
    studies = tuple(_judged(item, shipped) for item in kept)
    if not studies:
        raise fail(_none(name), ExitCode.SETTINGS)
    kept_back = outweighed(studies, shipped, settings)
    try:
        fitted, too_few = refit(studies, shipped, settings), ""
    except TooFewStudiesError as error:
        fitted, too_few = (), f"{name or 'all practices'}: {error}."
    if as_json:
        agrees = agreement(studies)
        shares = {part: getattr(agrees, part) for part in ("named_too", "said_too", "same")}
        plain = {
            "n_studies": len(studies),
            "fitted": to_plain(fitted),
            "outweighed": to_plain(kept_back),
            "agreement": {
                "n_studies": agrees.n_studies,
                **{part: {"n": share.n, "of": share.of, "interval": share.interval} for part, share in shares.items()},
            },
        }
        sys.stdout.write(json.dumps(plain, indent=2) + "\n")
    else:
        _print(studies, fitted, kept_back, shipped)
        if not too_few:
            _say_now(house)
    if too_few:
        raise fail(f"Nothing is re-fitted. {too_few}", ExitCode.SETTINGS)
    if out is not None:
        _write(out, house_fragment(fitted, shipped, _origin(kept)))
        if not as_json:
            OUT.print(
                f"{out}: {words.count(len(fitted), 'probability', 'probabilities')}; --house names it.", markup=False
            )


def _judged(item: BlindStudy, shipped: dict[str, CauseRow]) -> JudgedStudy:
    """Return what of a study counts: no cause that is not shipped any more, nor one that goes by its fact no more."""
    from fanlight.coach.refit import JudgedStudy

    said = item.first.said
    facts = {key: {"": None, **{fact.value: fact for fact in row.before_if}} for key, row in shipped.items()}
    asked = {cause: facts[cause][fact] for cause, fact in said.asked if cause in facts and fact in facts[cause]}
    return JudgedStudy(
        trainee=name_key(item.trainee), through=frozenset(said.through) & set(shipped),
        some=frozenset(said.some) & set(shipped), asked=asked,
        engine=None if item.engine is None else frozenset(item.engine),
    )  # fmt: skip


def _none(name: str) -> str:
    whose = f"{name}: no study of this practice" if name else "No study"
    return (
        f"{whose} was judged before its proposals were shown, so nothing is re-fitted. Let the desk cover a share of "
        "the studies: desk.settings.causes_first_share and causes_first_since in the house file."
    )


def _origin(kept: Iterable[BlindStudy]) -> str:
    """Return of whom the studies are: of one practice only where each names it, and all the same."""
    practices = {name_key(item.practice) for item in kept}
    return "this practice" if len(practices) == 1 and "" not in practices else "this desk"


def _print(
    studies: tuple[JudgedStudy, ...],
    fitted: Iterable[Refit],
    kept_back: Iterable[Outweighed],
    shipped: dict[str, CauseRow],
) -> None:
    from fanlight.coach.refit import agreement, counts_by_cause

    n_trainees = len({item.trainee for item in studies if item.trainee})
    of = f" of {words.count(n_trainees, 'trainee')}" if n_trainees else ""
    said = f"{words.count(len(studies), 'study', 'studies')}{of} judged before proposals were shown."
    OUT.print(said, markup=False)
    for line in agreement_lines(agreement(studies)):
        OUT.print(line, markup=False)
    done = list(fitted)
    for item in done:
        OUT.print(refit_words(item, shipped[item.cause].title), markup=False)
    stay = list(kept_back)
    for each in stay:
        OUT.print(outweighed_words(each, shipped[each.cause].title), markup=False)
    told = {item.cause for item in done} | {each.cause for each in stay}
    left = {key: row for key, row in shipped.items() if key not in told}
    for cause, counts in counts_by_cause(studies, left).items():
        if counts[1] or counts[2]:
            OUT.print(count_words(left[cause].title, *counts), markup=False)


def _say_now(house: House) -> None:
    """Say which probabilities of this House were re-fitted before: they are not what the new ones start from."""
    before = read_cause_priors(house)
    if before:
        said = f"{words.count(len(before), 'probability', 'probabilities')} of this house file re-fitted before"
        OUT.print(
            f"{said}; the new ones start from the shipped ones again, so that no study counts twice.", markup=False
        )


def _write(out: Path, text: str) -> None:
    try:
        with out.open("x", encoding="utf-8") as file:
            file.write(text)
    except OSError as error:
        raise fail(f"--out {out}: {error.strerror}. Name a place you may write to.", ExitCode.SETTINGS) from error
