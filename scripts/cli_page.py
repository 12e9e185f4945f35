"""Write docs/cli.md from the command line itself, so that the page cannot say anything else.

python scripts/cli_page.py [--check]     --check: only say whether the page is up to date
"""

from __future__ import annotations

import enum
import inspect
import re
import sys
import types
import typing
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import typer
from typer.models import ArgumentInfo, ParameterInfo

from fanlight.cli import ExitCode, app

PAGE = Path(__file__).resolve().parent.parent / "docs" / "cli.md"


def render() -> str:
    """Return the page."""
    parts = [
        "# Command line\n",
        "<!-- Made by scripts/cli_page.py from the command line itself. Do not edit. -->\n",
        f"{app.info.help}\n",
    ]
    if app.registered_callback and app.registered_callback.callback:
        parts.append(_options(app.registered_callback.callback))
    parts += _commands("fanlight", app)
    for group in app.registered_groups:
        inner = group.typer_instance
        assert inner is not None
        parts += _commands(f"fanlight {inner.info.name}", inner)
    parts += ["## Exit codes\n", "| code | name | meaning |\n|---|---|---|\n" + "\n".join(_exit_rows()), ""]
    return re.sub(r"\n{3,}", "\n\n", "\n".join(parts)).rstrip() + "\n"


def _commands(before: str, commands: typer.Typer) -> Iterator[str]:
    """Yield the parts of the page about the commands that stand behind some words."""
    for command in commands.registered_commands:
        function = command.callback
        if command.hidden or function is None:
            continue
        name = command.name or function.__name__.replace("_", "-")
        arguments = [field for field, _, info in _parameters(function) if isinstance(info, ArgumentInfo)]
        title = f"{before} {name}".removeprefix("fanlight ")
        yield f"## {title}\n"
        yield f"    {' '.join([before, name, *map(str.upper, arguments), '[OPTIONS]'])}\n"
        yield f"{inspect.getdoc(function)}\n"
        yield _options(function)


def _parameters(function: Callable[..., Any]) -> Iterator[tuple[str, Any, ParameterInfo]]:
    """Yield name, type and description of each parameter that a person may give."""
    for name, hint in typing.get_type_hints(function, include_extras=True).items():
        if typing.get_origin(hint) is typing.Annotated:
            kind, info = typing.get_args(hint)[:2]
            yield name, kind, info


def _options(function: Callable[..., Any]) -> str:
    rows = []
    for name, kind, info in _parameters(function):
        if isinstance(info, ArgumentInfo):
            spelling = name.upper()
        else:
            spelling = ", ".join(_spellings(name, info))
            value = info.metavar or _value(kind)
            if typing.get_origin(_without_none(kind)) is list:
                value += " …"
            spelling += f" {value}" if value else ""
        rows.append(f"| `{spelling}` | {' '.join((info.help or '').split())} |")
    return "\n".join(["| | |\n|---|---|", *rows, ""]) if rows else ""


def _spellings(name: str, info: ParameterInfo) -> list[str]:
    # Inside Annotated, typer keeps the first spelling where a default would stand.
    given = [info.default, *(info.param_decls or ())]
    return [text for text in given if isinstance(text, str) and text.startswith("-")] or [f"--{name.replace('_', '-')}"]


def _without_none(kind: Any) -> Any:
    if isinstance(kind, types.UnionType):
        (kind,) = (part for part in typing.get_args(kind) if part is not type(None))
    return kind


def _value(kind: Any) -> str:
    """Return what stands behind an option: a kind of value, the words it may be, or nothing for a switch."""
    kind = _without_none(kind)
    if typing.get_origin(kind) is list:
        (kind,) = typing.get_args(kind)
    if isinstance(kind, type) and issubclass(kind, enum.Enum):
        return " / ".join(str(member.value) for member in kind)
    return {bool: "", str: "TEXT", int: "NUMBER", float: "NUMBER", Path: "PATH"}[kind]


def _exit_rows() -> Iterator[str]:
    """Yield a row for each exit code, with the words that --help has for it."""
    said = dict(re.findall(r"(?:: |· )(\d) ([^·]+)", app.info.epilog or ""))
    for code in sorted(ExitCode):
        yield f"| {int(code)} | {code.name.replace('_', ' ').lower()} | {said[str(int(code))].strip()} |"


def main(arguments: list[str]) -> int:
    """Write or compare the page; return the exit code."""
    page = render()
    if "--check" not in arguments:
        PAGE.write_text(page, encoding="utf-8")
        return 0
    if not PAGE.exists() or PAGE.read_text(encoding="utf-8") != page:
        print("docs/cli.md is not what the command line says. Run: python scripts/cli_page.py")
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
