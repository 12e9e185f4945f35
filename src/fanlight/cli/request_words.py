"""The request sheet of a run: a file, and the options of the command line laid over it."""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING

from fanlight.cli.exit_code import ExitCode
from fanlight.cli.screen import fail
from fanlight.study import Breathing, Species

if TYPE_CHECKING:
    from fanlight.intake.request_sheet import RequestSheet

_MEASUREMENT = re.compile(r"(?P<quantity>[^=]+)=\s*(?P<value>\d+(?:\.\d+)?)\s*(?P<unit>[^,]*)(?:,(?P<method>.*))?")


def sheet_from_words(settings: list[str], measurements: list[str], short: dict[str, str]) -> str:
    """Return a request sheet in TOML made from the options of the command line."""
    tables: dict[str, dict[str, str]] = {}
    for setting in [*(f"{key}={value}" for key, value in short.items() if value), *settings]:
        place, equals, value = setting.partition("=")
        table, dot, key = place.strip().partition(".")
        if not (equals and dot and table and key):
            raise fail(
                f"--set {setting}: expected TABLE.FIELD=VALUE, such as request.murmur_grade=3.", ExitCode.SETTINGS
            )
        tables.setdefault(table, {})[key] = _toml_value(value.strip())
    lines: list[str] = []
    for table, fields in tables.items():
        lines += [f"[{table}]", *(f"{key} = {value}" for key, value in fields.items())]
    for item in measurements:
        found = _MEASUREMENT.fullmatch(item.strip())
        if found is None:
            raise fail(
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


def read_request(request_file: Path | None, options: str) -> RequestSheet:
    """Return the request sheet kept elsewhere, with the options of the command line laid over it."""
    from fanlight.intake.kept_reading import read_sheet
    from fanlight.intake.request_sheet import merge_sheets

    sheets = []
    try:
        if request_file is not None:
            sheets.append(read_sheet(request_file.read_bytes(), request_file.name))
    except OSError as error:
        raise fail(f"{request_file}: {error.strerror}. Name an existing request sheet.", ExitCode.SETTINGS) from error
    if options:
        sheets.append(read_sheet(options.encode(), "the command line"))
    for sheet in sheets:
        if sheet.refused or (sheet is sheets[-1] and options and sheet.notes):
            raise fail("\n".join([*map(str, sheet.refused), *sheet.notes]), ExitCode.SETTINGS)
    return merge_sheets(sheets)


def short_fields(
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
