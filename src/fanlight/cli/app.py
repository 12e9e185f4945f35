"""The command and its parts, in the order in which --help shows them."""

from __future__ import annotations

from typing import Annotated

import typer

from fanlight import __version__
from fanlight.cli.check import check
from fanlight.cli.deidentify import deidentify
from fanlight.cli.desk import desk
from fanlight.cli.forget import forget
from fanlight.cli.practice import practice
from fanlight.cli.priors import priors
from fanlight.cli.review import review
from fanlight.cli.screen import OUT
from fanlight.cli.simulate import simulate
from fanlight.cli.store import store

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
for _command in (review, check, desk, practice, priors, deidentify, simulate, forget):
    app.command()(_command)
app.add_typer(store)


def _version(wanted: bool) -> None:
    if wanted:
        OUT.print(f"fanlight {__version__}")
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
