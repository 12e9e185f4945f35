"""`fanlight desk`: the place where a mentor works, in a browser on this machine."""

from __future__ import annotations

import contextlib
import os
import sys
import time
import webbrowser
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fanlight.cli.exit_code import ExitCode
from fanlight.cli.options import HouseFile, NoCacheOption
from fanlight.cli.reading import read_house
from fanlight.cli.screen import ERR, OUT, Bar, fail, say_refusals

if TYPE_CHECKING:
    from fanlight.desk import Desk

_PORT = 8471  # in no registry of services; house choice
_LOOK_S = 0.2  # between two looks at how far the reading is


def desk(
    study: Annotated[
        list[Path] | None,
        typer.Option("--study", exists=True, help="Folder, zip or file to take in at the start; may be repeated."),
    ] = None,
    data: Annotated[Path | None, typer.Option("--data", help="Folder that keeps all; made when missing.")] = None,
    port: Annotated[int, typer.Option("--port", min=0, max=65535, help="Port on this machine; 0: a free one.")] = _PORT,
    house_file: HouseFile = None,
    read_first: Annotated[
        bool, typer.Option("--read-first", help="Open when what is given with --study is read to its end.")
    ] = False,
    no_open: Annotated[bool, typer.Option("--no-open", help="Print the address and open no browser.")] = False,
    no_cache: NoCacheOption = False,
) -> None:
    """Serve the desk on this machine: place, decide, mark and sign in a browser. Ctrl-C ends it; nothing is lost."""
    # Imported late: --help answers at once.
    from fanlight.review.processes import get_ready

    get_ready()  # on another core, while this one reads the modules of the service
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
            for place in study or ():
                _take_in(opened, place, read_first)
            OUT.print("The desk is open; Ctrl-C here ends it, and nothing is lost.", markup=False)
            OUT.print("This address works once, in the browser that opens it first:", markup=False)
            OUT.print(f"  {listening.address}", markup=False)
            if not no_open and has_display(sys.platform, os.environ):
                webbrowser.open(listening.address)
            serve_desk(opened, listening)
    except KeyboardInterrupt:  # the usual end
        return
    except (StoreError, DeskError) as error:
        raise fail(str(error), ExitCode.SETTINGS) from error


def has_display(platform: str, environment: Mapping[str, str]) -> bool:
    """Return whether a browser with windows can open here; without one a browser for terminals would take this one."""
    return platform in ("win32", "darwin") or bool(environment.get("DISPLAY") or environment.get("WAYLAND_DISPLAY"))


def _take_in(opened: Desk, path: Path, read_first: bool) -> None:
    """Take a study in; the same place again adds only what is new there."""
    from fanlight.desk import take_in_place

    taken = take_in_place(opened, path)
    say_refusals(taken.left)
    if taken.n_files == 0:
        what = "no file could be taken in" if taken.left else "no file lies there"
        ERR.print(f"{path}: {what}.", markup=False)
    elif read_first:
        _wait_for(opened, taken.study)


def _wait_for(opened: Desk, study: str) -> None:
    """Show how far the reading is until it has ended; an error of the engine is told, and the desk opens with it."""
    from fanlight.store import clip_readings, latest_assembly

    n_read, is_begun = 0, False
    with Bar(quiet=False) as bar:
        while (now := opened.engine.state(study)).state != "idle":
            if not is_begun and (assembled := latest_assembly(opened.store, study)) is not None:
                bar.begin("Reading", len(assembled.clips))
                is_begun = True
            if is_begun:
                n_now = len(clip_readings(opened.store, study))
                bar.step(by=n_now - n_read)
                n_read = n_now
            time.sleep(_LOOK_S)
    if now.error is not None:
        ERR.print(str(now.error), markup=False)
