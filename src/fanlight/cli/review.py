"""`fanlight review`: draft letter, summary and study sheet."""

from __future__ import annotations

import sys
from datetime import datetime
from pathlib import Path

import typer

from fanlight.cli.cause_words import say_corrections
from fanlight.cli.dicom_report import write_dicom_report
from fanlight.cli.exit_code import ExitCode
from fanlight.cli.followed_words import say_follow_up
from fanlight.cli.ladder_words import say_ladders
from fanlight.cli.marks_words import say_numbers, with_marks
from fanlight.cli.meaning_words import say_meaning, with_earlier
from fanlight.cli.options import (
    BreathingOption,
    DicomReportOption,
    EarlierReviews,
    HouseFile,
    Json,
    Level,
    MarksFile,
    MeasurementOption,
    NoCacheOption,
    Out,
    PathArgument,
    Plan,
    Question,
    Quiet,
    RequestFile,
    Set,
    SpeciesOption,
    Weight,
    Workers,
)
from fanlight.cli.reading import Wanted, check_ready, read_house, run_review
from fanlight.cli.request_words import read_request, sheet_from_words, short_fields
from fanlight.cli.screen import OUT, say_refusals
from fanlight.cli.stand_words import say_stands


def review(
    path: PathArgument,
    out: Out = None,
    house_file: HouseFile = None,
    request_file: RequestFile = None,
    marks_file: MarksFile = None,
    earlier: EarlierReviews = None,
    plan: Plan = "",
    question: Question = "",
    species: SpeciesOption = None,
    weight_kg: Weight = None,
    breathing: BreathingOption = None,
    level: Level = "",
    settings: Set = None,
    measurements: MeasurementOption = None,
    dicom_report: DicomReportOption = False,
    workers: Workers = 0,
    no_cache: NoCacheOption = False,
    quiet: Quiet = False,
    as_json: Json = False,
) -> None:
    """Review a study and draft the feedback letter, the clinical summary and the study sheet."""
    from fanlight.review.processes import get_ready

    get_ready()  # on another core, while this one reads the modules of the command
    from fanlight.report.recognised import recognised_words
    from fanlight.report.write import write_review
    from fanlight.review.opening import OpenStudy
    from fanlight.review.pictures import Pictures

    house = read_house(house_file)
    short = short_fields(question, species, weight_kg, breathing, level)
    request = read_request(request_file, sheet_from_words(settings or [], measurements or [], short))
    request, bad_marks = with_marks(request, marks_file, house)
    request, broken = with_earlier(request, earlier or [], house)
    check_ready(house, plan, out)
    wanted = Wanted(house=house, request=request, plan=plan, workers=workers, no_cache=no_cache, quiet=quiet or as_json)
    with OpenStudy() as opened:
        draft = run_review(path, opened, wanted)
        folder = out or Path.cwd() / f"fanlight-{draft.study.key}"
        with Pictures(opened, draft) as pictures:
            written_at = datetime.now().astimezone()
            written = write_review(draft, house, pictures, folder, written_at)
        report = write_dicom_report(draft, house, opened, folder, written_at) if dicom_report else None
    if as_json:
        sys.stdout.write((folder / "review.json").read_text("utf-8"))
    else:
        for file in (*written, *([report] if report else [])):
            OUT.print(str(file), markup=False)
    say_corrections(draft, as_json or quiet)
    say_follow_up(draft, as_json or quiet)
    say_stands(draft, house, as_json or quiet)
    say_numbers(draft.measurements, as_json or quiet, draft.meaning.changes)
    say_meaning(draft.meaning, as_json or quiet)
    if (recognised := recognised_words(draft)) and not (as_json or quiet):
        OUT.print(recognised, markup=False)
    say_ladders(draft.coverage.ladders, as_json or quiet)
    say_refusals((*bad_marks, *broken, *draft.refused))
    if bad_marks or broken or draft.refused or (dicom_report and report is None):
        raise typer.Exit(ExitCode.SOME_REFUSED)
