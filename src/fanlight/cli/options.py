"""Options that several commands share, each said once."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from fanlight.study import Breathing, Species

PathArgument = Annotated[Path, typer.Argument(exists=True, help="Folder, zip or single file, as it came.")]
Out = Annotated[Path | None, typer.Option("--out", help="Folder for what is written; made when missing.")]
HouseFile = Annotated[Path | None, typer.Option("--house", help="TOML file with the teaching group's own settings.")]
Plan = Annotated[str, typer.Option("--plan", help="Key of the plan; by default the request chooses.")]
RequestFile = Annotated[Path | None, typer.Option("--request", help="Request sheet (TOML) kept elsewhere.")]
MarksFile = Annotated[
    Path | None,
    typer.Option("--marks", help="Marks file (TOML): modes, views, scales and what was drawn, file by file."),
]
EarlierReviews = Annotated[
    list[Path] | None,
    typer.Option(
        "--earlier",
        help="review.json of an earlier visit of this animal, or study of this trainee; more than one may be given.",
    ),
]
Question = Annotated[str, typer.Option("--question", help="Clinical question, in words or by key.")]
SpeciesOption = Annotated[Species | None, typer.Option("--species", help="Species, when the files do not say.")]
Weight = Annotated[float | None, typer.Option("--weight-kg", help="Body weight, when the files do not say.")]
BreathingOption = Annotated[Breathing | None, typer.Option("--breathing", help="Breathing on the day.")]
Level = Annotated[str, typer.Option("--level", help="Training level of the trainee.")]
Set = Annotated[
    list[str] | None,
    typer.Option(
        "--set", metavar="TABLE.FIELD=VALUE", help="Any field of the request sheet, e.g. request.murmur_grade=3."
    ),
]
MeasurementOption = Annotated[
    list[str] | None,
    typer.Option(
        "--measurement", metavar="NAME=VALUE UNIT, METHOD", help='A number to weigh, e.g. "LVIDd=3.6 cm, M-mode".'
    ),
]
DicomReportOption = Annotated[
    bool, typer.Option("--dicom-report", help="Write the numbers as a DICOM structured report too, not signed.")
]
Workers = Annotated[int, typer.Option("--workers", min=0, help="Clips read at once; 0: one a core, at most four.")]
NoCacheOption = Annotated[bool, typer.Option("--no-cache", help="Read everything anew and keep nothing.")]
Quiet = Annotated[bool, typer.Option("--quiet", help="No progress; only what was written, or errors.")]
Json = Annotated[bool, typer.Option("--json", help="The result as JSON on standard output, nothing else.")]
