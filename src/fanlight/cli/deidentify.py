"""`fanlight deidentify`: teaching copies without identity."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Annotated

import typer

from fanlight.cli.exit_code import ExitCode
from fanlight.cli.options import HouseFile, Json, PathArgument, Quiet
from fanlight.cli.reading import read_house
from fanlight.cli.screen import OUT, Bar, fail, say_refusals
from fanlight.study import Refusal


def deidentify(
    path: PathArgument,
    out: Annotated[Path, typer.Option("--out", help="Folder for the teaching copies; made when missing.")],
    house_file: HouseFile = None,
    blank_inside: Annotated[
        bool, typer.Option("--blank-inside", help="Blank text on the ultrasound picture too, instead of flagging it.")
    ] = False,
    quiet: Quiet = False,
    as_json: Json = False,
) -> None:
    """Write teaching copies without identity, in tags and in pixels, and list what was taken out."""
    from fanlight.intake.deidentify_key import KeyFileError
    from fanlight.review import deidentify as copies
    from fanlight.review import events
    from fanlight.review.settings import data_folder

    house = read_house(house_file)
    report = None
    refused: list[Refusal] = []
    with Bar(quiet or as_json) as bar:
        try:
            for event in copies.deidentify_study(path, house, out, data_folder(), blank_inside=blank_inside):
                match event:
                    case events.StudyAssembled(study=study):
                        bar.begin("Writing copies", len(study.clips))
                    case events.FileRefused(refusal=refusal):
                        refused.append(refusal)
                        bar.step()
                    case copies.ClipCopied():
                        bar.step()
                    case copies.CopiesFinished(report=finished):
                        report = finished
        except KeyFileError as error:
            raise fail(str(error), ExitCode.SETTINGS) from error
    assert report is not None
    (out / "removed.json").write_text(json.dumps(report.as_json(), indent=1), "utf-8")
    (out / "removed.txt").write_text(report.as_text(), "utf-8")
    if as_json:
        sys.stdout.write(json.dumps(report.as_json(), indent=1) + "\n")
    else:
        OUT.print(report.as_text(), markup=False)
    say_refusals(tuple(refused))
    if not report.clips:
        raise fail("No copy was written.", ExitCode.NOTHING_READ)
    if refused:
        raise typer.Exit(ExitCode.SOME_REFUSED)
