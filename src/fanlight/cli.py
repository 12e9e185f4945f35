"""Command line: review a study, check it while the animal is on the table, make teaching copies."""

from __future__ import annotations

import json
import re
import sys
import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from enum import IntEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TaskID, TextColumn

from fanlight import __version__
from fanlight.coach.retakes import STOP, RetakeList, list_retakes
from fanlight.reference.criteria import read_criteria
from fanlight.reference.letter import read_letter_limits
from fanlight.reference.load import HouseFileError, load_house
from fanlight.study import Breathing, House, Patient, Refusal, Request, Species, Study, StudyReview

if TYPE_CHECKING:
    from fanlight.intake.request_sheet import RequestSheet
    from fanlight.review.run import OpenStudy

app = typer.Typer(
    name="fanlight",
    help="Review of veterinary heart scans for the mentors who teach them. It supports a licensed veterinarian "
    "and replaces none; nothing it drafts is signed.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    epilog="Exit codes: 0 done · 3 done, but some files could not be used · 4 nothing could be read · "
    "5 the settings or request file cannot be used · 2 wrong use of the command · 1 a fault of Fanlight",
)


class ExitCode(IntEnum):
    """What the command says to a script."""

    DONE = 0
    FAULT = 1
    USAGE = 2
    SOME_REFUSED = 3
    NOTHING_READ = 4
    SETTINGS = 5


_PathArgument = Annotated[Path, typer.Argument(exists=True, help="Folder, zip or single file, as it came.")]
_Out = Annotated[Path | None, typer.Option("--out", help="Folder for what is written; made when missing.")]
_HouseFile = Annotated[Path | None, typer.Option("--house", help="TOML file with the teaching group's own settings.")]
_Plan = Annotated[str, typer.Option("--plan", help="Key of the plan; by default the request chooses.")]
_RequestFile = Annotated[Path | None, typer.Option("--request", help="Request sheet (TOML) kept elsewhere.")]
_Question = Annotated[str, typer.Option("--question", help="Clinical question, in words or by key.")]
_SpeciesOption = Annotated[Species | None, typer.Option("--species", help="Species, when the files do not say.")]
_Weight = Annotated[float | None, typer.Option("--weight-kg", help="Body weight, when the files do not say.")]
_BreathingOption = Annotated[Breathing | None, typer.Option("--breathing", help="Breathing on the day.")]
_Level = Annotated[str, typer.Option("--level", help="Training level of the trainee.")]
_Set = Annotated[
    list[str] | None,
    typer.Option(
        "--set", metavar="TABLE.FIELD=VALUE", help="Any field of the request sheet, e.g. request.murmur_grade=3."
    ),
]
_Measurement = Annotated[
    list[str] | None,
    typer.Option(
        "--measurement", metavar="NAME=VALUE UNIT, METHOD", help='A number to weigh, e.g. "LVIDd=3.6 cm, M-mode".'
    ),
]
_MEASUREMENT = re.compile(r"(?P<quantity>[^=]+)=\s*(?P<value>\d+(?:\.\d+)?)\s*(?P<unit>[^,]*)(?:,(?P<method>.*))?")
_Workers = Annotated[int, typer.Option("--workers", min=0, help="Clips read at once; 0: one a core, at most four.")]
_NoCache = Annotated[bool, typer.Option("--no-cache", help="Read everything anew and keep nothing.")]
_Quiet = Annotated[bool, typer.Option("--quiet", help="No progress; only what was written, or errors.")]
_Json = Annotated[bool, typer.Option("--json", help="The result as JSON on standard output, nothing else.")]

_OUT = Console(highlight=False, soft_wrap=True)
_ERR = Console(stderr=True, highlight=False, soft_wrap=True)


def _fail(message: str, code: ExitCode) -> typer.Exit:
    _ERR.print(message, markup=False)
    return typer.Exit(code)


def _house(own_file: Path | None) -> House:
    try:
        return load_house(own_file)
    except HouseFileError as error:
        raise _fail(str(error), ExitCode.SETTINGS) from error


def _say_refusals(refused: tuple[Refusal, ...]) -> None:
    if refused:
        n = len({item.name for item in refused})
        _ERR.print(f"{n} file{'' if n == 1 else 's'} could not be used, or only in part:")
        for item in refused:
            _ERR.print(f"  {item}", markup=False)


def _sheet_from_words(settings: list[str], measurements: list[str], short: dict[str, str]) -> str:
    """Return a request sheet in TOML made from the options of the command line."""
    tables: dict[str, dict[str, str]] = {}
    for setting in [*(f"{key}={value}" for key, value in short.items() if value), *settings]:
        place, equals, value = setting.partition("=")
        table, dot, key = place.strip().partition(".")
        if not (equals and dot and table and key):
            raise _fail(
                f"--set {setting}: expected TABLE.FIELD=VALUE, such as request.murmur_grade=3.", ExitCode.SETTINGS
            )
        tables.setdefault(table, {})[key] = _toml_value(value.strip())
    lines: list[str] = []
    for table, fields in tables.items():
        lines += [f"[{table}]", *(f"{key} = {value}" for key, value in fields.items())]
    for item in measurements:
        found = _MEASUREMENT.fullmatch(item.strip())
        if found is None:
            raise _fail(
                f'--measurement {item}: expected NAME=VALUE UNIT, METHOD, such as "LVIDd=3.6 cm, M-mode".',
                ExitCode.SETTINGS,
            )
        lines.append("[[measurement]]")
        lines += [f"{key} = {json.dumps(text.strip())}" for key, text in found.groupdict("").items() if key != "value"]
        lines.append(f"value = {found['value']}")
    return "\n".join(lines)


def _toml_value(text: str) -> str:
    """Return a value as TOML: as it stands when TOML reads it (3, true, ["a"]), else as words."""
    try:
        tomllib.loads(f"x = {text}")
    except tomllib.TOMLDecodeError:
        return json.dumps(text)
    return text


def _request(request_file: Path | None, options: str) -> RequestSheet:
    """Return the request sheet kept elsewhere, with the options of the command line laid over it."""
    from fanlight.intake.request_sheet import merge_sheets, read_sheet

    sheets = []
    try:
        if request_file is not None:
            sheets.append(read_sheet(request_file.read_bytes(), request_file.name))
    except OSError as error:
        raise _fail(f"{request_file}: {error.strerror}. Name an existing request sheet.", ExitCode.SETTINGS) from error
    if options:
        sheets.append(read_sheet(options.encode(), "the command line"))
    for sheet in sheets:
        if sheet.refused or (sheet is sheets[-1] and options and sheet.notes):
            raise _fail("\n".join([*map(str, sheet.refused), *sheet.notes]), ExitCode.SETTINGS)
    return merge_sheets(sheets)


def _ready(house: House, plan: str, out: Path | None) -> None:
    """Say at once, not after minutes of reading, that a plan does not exist or a folder cannot be written."""
    from fanlight.reference.plans import UnknownPlanError, choose_plan

    try:
        choose_plan(house, Patient(), Request(), plan)
        if out is not None:
            out.mkdir(parents=True, exist_ok=True)
    except UnknownPlanError as error:
        raise _fail(f"--plan: {error}", ExitCode.SETTINGS) from error
    except OSError as error:
        raise _fail(
            f"--out {out}: {error.strerror}. Name a folder that you may write to.", ExitCode.SETTINGS
        ) from error


class _Bar:
    """Progress over the clips, on standard error; silent when asked to be or when nobody watches."""

    def __init__(self, quiet: bool) -> None:
        self._progress = Progress(
            TextColumn("{task.description}"),
            BarColumn(bar_width=30),
            MofNCompleteColumn(),
            TextColumn("{task.fields[now]}"),
            console=_ERR,
            transient=True,
            disable=quiet or not _ERR.is_terminal,
        )
        self._task: TaskID | None = None

    def __enter__(self) -> _Bar:
        self._progress.start()
        return self

    def __exit__(self, *exc: object) -> None:
        self._progress.stop()

    def begin(self, words: str, total: int) -> None:
        """Start counting something new."""
        if self._task is not None:
            self._progress.remove_task(self._task)
        self._task = self._progress.add_task(words, total=total, now="")

    def step(self, by: int = 1, now: str = "") -> None:
        """Count on."""
        if self._task is not None:
            self._progress.update(self._task, advance=by, now=now)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Wanted:
    """How a study is to be read."""

    house: House
    request: RequestSheet
    plan: str
    workers: int
    no_cache: bool
    quiet: bool


def _run(
    path: Path, opened: OpenStudy, wanted: _Wanted, at_start: Callable[[Study], None] | None = None
) -> StudyReview:
    """Run the review and return the draft; ends the command when nothing could be read."""
    # Imported late: --help answers at once.
    from fanlight.review import events
    from fanlight.review.cache import DiskCache, NoCache
    from fanlight.review.run import ReviewOptions, review_study
    from fanlight.review.settings import cache_folder, default_workers

    options = ReviewOptions(request=wanted.request, plan=wanted.plan, workers=wanted.workers or default_workers())
    review: StudyReview | None = None
    with NoCache() if wanted.no_cache else DiskCache(cache_folder()) as cache, _Bar(wanted.quiet) as bar:
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
        _say_refusals(review.refused)
        raise _fail(f"{path.name}: nothing could be read.", ExitCode.NOTHING_READ)
    return review


@app.command()
def review(
    path: _PathArgument,
    out: _Out = None,
    house_file: _HouseFile = None,
    request_file: _RequestFile = None,
    plan: _Plan = "",
    question: _Question = "",
    species: _SpeciesOption = None,
    weight_kg: _Weight = None,
    breathing: _BreathingOption = None,
    level: _Level = "",
    settings: _Set = None,
    measurements: _Measurement = None,
    workers: _Workers = 0,
    no_cache: _NoCache = False,
    quiet: _Quiet = False,
    as_json: _Json = False,
) -> None:
    """Review a study and draft the feedback letter, the clinical summary and the study sheet."""
    from fanlight.report.write import write_review
    from fanlight.review.pictures import Pictures
    from fanlight.review.run import OpenStudy

    house = _house(house_file)
    short = _short(question, species, weight_kg, breathing, level)
    request = _request(request_file, _sheet_from_words(settings or [], measurements or [], short))
    _ready(house, plan, out)
    wanted = _Wanted(
        house=house, request=request, plan=plan, workers=workers, no_cache=no_cache, quiet=quiet or as_json
    )
    with OpenStudy() as opened:
        draft = _run(path, opened, wanted)
        folder = out or Path.cwd() / f"fanlight-{draft.study.key}"
        with Pictures(opened, draft) as pictures:
            written = write_review(draft, house, pictures, folder, datetime.now().astimezone())
    if as_json:
        sys.stdout.write((folder / "review.json").read_text("utf-8"))
    else:
        for file in written:
            _OUT.print(str(file), markup=False)
    _say_refusals(draft.refused)
    if draft.refused:
        raise typer.Exit(ExitCode.SOME_REFUSED)


def _short(
    question: str, species: Species | None, weight_kg: float | None, breathing: Breathing | None, level: str
) -> dict[str, str]:
    """Return the options that have a name of their own as fields of the request sheet."""
    return {
        "request.question": json.dumps(question) if question else "",
        "animal.species": species or "",
        "animal.weight_kg": "" if weight_kg is None else str(weight_kg),
        "request.breathing": breathing or "",
        "request.training_level": json.dumps(level) if level else "",
    }


def _print_retakes(found: RetakeList, n_clips: int, as_json: bool) -> None:
    from fanlight.study.codec import to_plain

    if as_json:
        sys.stdout.write(json.dumps(to_plain(found), indent=2) + "\n")
        return
    if found.first_line:
        _OUT.print(found.first_line, markup=False)
    for place, item in enumerate(found.retakes, start=1):
        where = f" (clip {', '.join(map(str, item.clip_numbers))})" if item.clip_numbers else ""
        _OUT.print(f"{place}. {item.words}{where}", markup=False)
    if not found.retakes and not found.first_line:
        _OUT.print(f"Nothing to scan again was found in {n_clips} clip{'' if n_clips == 1 else 's'}.", markup=False)
    for note in found.not_said:
        _OUT.print(note, markup=False)
    _OUT.print(found.caution, markup=False)


@app.command()
def check(
    path: _PathArgument,
    house_file: _HouseFile = None,
    request_file: _RequestFile = None,
    plan: _Plan = "",
    question: _Question = "",
    species: _SpeciesOption = None,
    breathing: _BreathingOption = None,
    level: _Level = "",
    settings: _Set = None,
    workers: _Workers = 0,
    no_cache: _NoCache = False,
    quiet: _Quiet = False,
    as_json: _Json = False,
) -> None:
    """Say what to scan again while the animal is still on the table: at most five things, no numbers, no grade."""
    from fanlight.review.run import OpenStudy

    house = _house(house_file)
    short = _short(question, species, None, breathing, level)
    request = _request(request_file, _sheet_from_words(settings or [], [], short))
    _ready(house, plan, None)
    wanted = _Wanted(
        house=house, request=request, plan=plan, workers=workers, no_cache=no_cache, quiet=quiet or as_json
    )

    def stop_if_distressed(study: Study) -> None:
        # Nobody waits for pictures to be read while an animal is in distress.
        if study.request.breathing is Breathing.DISTRESSED:
            _print_retakes(RetakeList(first_line=STOP, retakes=(), not_said=()), 0, as_json)
            raise typer.Exit(ExitCode.DONE)

    with OpenStudy() as opened:
        draft = _run(path, opened, wanted, stop_if_distressed)
    limits = read_letter_limits(house)
    found = list_retakes(draft, read_criteria(house), limits.retakes_max, limits.sure_from)
    _print_retakes(found, len(draft.readings), as_json)
    _say_refusals(draft.refused)
    if draft.refused:
        raise typer.Exit(ExitCode.SOME_REFUSED)


@app.command()
def deidentify(
    path: _PathArgument,
    out: Annotated[Path, typer.Option("--out", help="Folder for the teaching copies; made when missing.")],
    house_file: _HouseFile = None,
    blank_inside: Annotated[
        bool, typer.Option("--blank-inside", help="Blank text on the ultrasound picture too, instead of flagging it.")
    ] = False,
    quiet: _Quiet = False,
    as_json: _Json = False,
) -> None:
    """Write teaching copies without identity, in tags and in pixels, and list what was taken out."""
    from fanlight.intake.deidentify_key import KeyFileError
    from fanlight.review import deidentify as copies
    from fanlight.review import events
    from fanlight.review.settings import data_folder

    house = _house(house_file)
    report = None
    refused: list[Refusal] = []
    with _Bar(quiet or as_json) as bar:
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
            raise _fail(str(error), ExitCode.SETTINGS) from error
    assert report is not None
    (out / "removed.json").write_text(json.dumps(report.as_json(), indent=1), "utf-8")
    (out / "removed.txt").write_text(report.as_text(), "utf-8")
    if as_json:
        sys.stdout.write(json.dumps(report.as_json(), indent=1) + "\n")
    else:
        _OUT.print(report.as_text(), markup=False)
    _say_refusals(tuple(refused))
    if not report.clips:
        raise _fail("No copy was written.", ExitCode.NOTHING_READ)
    if refused:
        raise typer.Exit(ExitCode.SOME_REFUSED)


@app.command("forget")
def forget() -> None:
    """Throw away the results kept on disk; nothing else is touched."""
    from fanlight.review.cache import DiskCache
    from fanlight.review.settings import cache_folder

    with DiskCache(cache_folder()) as cache:
        n = cache.purge()
    _OUT.print(f"{n} results thrown away from {cache_folder()}", markup=False)


def _version(wanted: bool) -> None:
    if wanted:
        _OUT.print(f"fanlight {__version__}")
        raise typer.Exit


@app.callback()
def main_options(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Say the version.")
    ] = False,
) -> None:
    """Review of veterinary heart scans for the mentors who teach them."""
    del version


def main() -> None:
    """Entry point of the `fanlight` command."""
    app()


if __name__ == "__main__":
    main()
