"""Read a study for a command: settings, progress, and the end of the command when nothing can be read."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from fanlight.cli.exit_code import ExitCode
from fanlight.cli.screen import Bar, fail, say_refusals
from fanlight.reference.load import HouseFileError, load_house
from fanlight.study import House, Patient, Request, Study, StudyReview

if TYPE_CHECKING:
    from fanlight.intake.request_sheet import RequestSheet
    from fanlight.review.opening import OpenStudy


def read_house(own_file: Path | None) -> House:
    """Return the shipped settings with a group's own laid over; ends the command when they cannot be used."""
    try:
        return load_house(own_file)
    except HouseFileError as error:
        raise fail(str(error), ExitCode.SETTINGS) from error


def check_ready(house: House, plan: str, out: Path | None) -> None:
    """Say at once, not after minutes of reading, that a plan does not exist or a folder cannot be written."""
    from fanlight.reference.plans import UnknownPlanError, choose_plan

    try:
        choose_plan(house, Patient(), Request(), plan)
        if out is not None:
            out.mkdir(parents=True, exist_ok=True)
    except UnknownPlanError as error:
        raise fail(f"--plan: {error}", ExitCode.SETTINGS) from error
    except OSError as error:
        raise fail(f"--out {out}: {error.strerror}. Name a folder that you may write to.", ExitCode.SETTINGS) from error


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """How a study is to be read."""

    house: House
    request: RequestSheet
    plan: str
    workers: int
    no_cache: bool
    quiet: bool


def run_review(
    path: Path, opened: OpenStudy, wanted: Wanted, at_start: Callable[[Study], None] | None = None
) -> StudyReview:
    """Run the review and return the draft; ends the command when nothing could be read."""
    # Imported late: --help answers at once.
    from fanlight.review import events
    from fanlight.review.cache import DiskCache, NoCache
    from fanlight.review.opening import ReviewOptions
    from fanlight.review.run import review_study
    from fanlight.review.settings import cache_folder, default_workers

    options = ReviewOptions(request=wanted.request, plan=wanted.plan, workers=wanted.workers or default_workers())
    review: StudyReview | None = None
    with NoCache() if wanted.no_cache else DiskCache(cache_folder()) as cache, Bar(wanted.quiet) as bar:
        for event in review_study(path, wanted.house, opened, options, cache):
            match event:
                case events.FilesFound(n_files=n):
                    bar.begin("Reading headers", n)
                case events.FileProbed():
                    bar.step()
                case events.StudyAssembled(study=study):
                    if at_start is not None:
                        at_start(study)
                    bar.begin("Reading clips", len(study.clips))
                case events.ClipProgress(number=number, phase=phase, frames_done=done, n_frames=n):
                    bar.step(0, f"clip {number}: {phase}, frame {done} of {n}")
                case events.ClipFinished() | events.FileRefused():
                    bar.step()
                case events.ReviewFinished(review=draft):
                    review = draft
    assert review is not None
    if not review.readings:
        say_refusals(review.refused)
        raise fail(f"{path.name}: nothing could be read.", ExitCode.NOTHING_READ)
    return review
