"""`fanlight desk`: the place where a mentor works, in a browser on this machine."""

from __future__ import annotations

import contextlib
import webbrowser
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fanlight.cli.exit_code import ExitCode
from fanlight.cli.options import HouseFile, NoCacheOption
from fanlight.cli.reading import read_house
from fanlight.cli.screen import ERR, OUT, fail

if TYPE_CHECKING:
    from fanlight.desk import Desk

_PORT = 8471


def desk(
    study: Annotated[
        Path | None, typer.Option("--study", exists=True, help="Folder, zip or file to take in at the start.")
    ] = None,
    data: Annotated[Path | None, typer.Option("--data", help="Folder that keeps all; made when missing.")] = None,
    port: Annotated[int, typer.Option("--port", min=0, max=65535, help="Port on this machine; 0: a free one.")] = _PORT,
    house_file: HouseFile = None,
    no_open: Annotated[bool, typer.Option("--no-open", help="Print the address and open no browser.")] = False,
    no_cache: NoCacheOption = False,
) -> None:
    """Serve the desk on this machine: place, decide, mark and sign in a browser. Ctrl-C ends it; nothing is lost."""
    # Imported late: --help answers at once.
    from fanlight.desk import Desk, DeskError, DeskOptions, listen, serve_desk
    from fanlight.review.settings import cache_folder
    from fanlight.store import StoreError, open_store

    house = read_house(house_file)
    try:
        listening = listen(port)
    except OSError as error:
        words = f"--port {port}: {error.strerror}. Is a desk open already? Else choose another port."
        raise fail(words, ExitCode.SETTINGS) from error
    options = DeskOptions(cache=None if no_cache else cache_folder())
    try:
        with contextlib.closing(listening.socket), open_store(data) as store, Desk(store, house, options) as opened:
            if study is not None:
                _take_in(opened, study)
            OUT.print("The desk is open. This address works once, in the browser that opens it first:", markup=False)
            OUT.print(f"  {listening.address}", markup=False)
            if not no_open:
                webbrowser.open(listening.address)
            with contextlib.suppress(KeyboardInterrupt):  # the usual end
                serve_desk(opened, listening)
    except (StoreError, DeskError) as error:
        raise fail(str(error), ExitCode.SETTINGS) from error


def _take_in(opened: Desk, path: Path) -> None:
    """Take a study in; the same place again adds only what is new there."""
    from fanlight.desk import take_in_place

    kept = take_in_place(opened, path)
    if kept == 0:
        ERR.print(f"{path}: no file lies there.", markup=False)
