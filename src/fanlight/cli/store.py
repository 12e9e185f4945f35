"""`fanlight store`: the backup of what the desk keeps, the way back, and whether all is as it was written."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from fanlight.cli.exit_code import ExitCode
from fanlight.cli.screen import ERR, OUT, fail

store = typer.Typer(
    name="store",
    help="Copies of what the desk keeps, and whether it is as it was written.",
    no_args_is_help=True,
)
Data = Annotated[
    Path | None, typer.Option("--data", help="Folder that the desk keeps all in, as given to `fanlight desk --data`.")
]


@store.command("export")
def export(
    file: Annotated[Path, typer.Argument(help="Zip to write; a name that is not used yet.")], data: Data = None
) -> None:
    """Write everything that the desk keeps to one zip, the backup to make; the desk may stay open meanwhile.

    It holds names of animals and owners: a clinical record, no teaching copy.
    """
    from fanlight.store import StoreError, export_store, open_store

    try:
        with open_store(existing_store(data)) as opened:
            manifest = export_store(opened, file)
    except StoreError as error:
        raise fail(str(error), ExitCode.SETTINGS) from error
    n_files = sum(member.name.startswith("originals/") for member in manifest.members)
    OUT.print(f"{file}: everything is in it, {_files(n_files)} among it.", markup=False)


@store.command("restore")
def restore(
    file: Annotated[Path, typer.Argument(exists=True, dir_okay=False, help="What `fanlight store export` wrote.")],
    data: Annotated[
        Path | None,
        typer.Option("--data", help="Folder, not there yet or empty; else where the desk keeps all."),
    ] = None,
) -> None:
    """Make everything anew from an export, in an empty folder: all of it, or nothing."""
    from fanlight.store import StoreError, default_folder, restore_store

    folder = default_folder() if data is None else data
    try:
        restore_store(file, folder)
    except StoreError as error:
        raise fail(str(error), ExitCode.SETTINGS) from error
    OUT.print(f"{folder}: everything is there again, compared with its hashes.", markup=False)
    if data is not None:
        OUT.print(f"Open it with: fanlight desk --data {folder}", markup=False)


@store.command("verify")
def verify(data: Data = None) -> None:
    """Compare every file and every signed paper with its hash, and name what is no longer as it was written."""
    from fanlight.store import StoreError, open_store, verify_store

    try:
        with open_store(existing_store(data)) as opened:
            found = verify_store(opened)
    except StoreError as error:
        raise fail(str(error), ExitCode.SETTINGS) from error
    for damage in found.damage:
        ERR.print(f"{damage.where}: {damage.found}.", markup=False)
    if not found.is_whole:
        ERR.print("Send a damaged file again, which mends it; or restore the newest export into an empty folder:")
        ERR.print("  fanlight store restore EXPORT --data FOLDER", markup=False)
        raise typer.Exit(ExitCode.SOME_REFUSED)
    OUT.print(f"{_files(found.n_originals)}: everything is as it was written.", markup=False)


def existing_store(data: Path | None) -> Path:
    """Return the folder of a store that is there; opening one that is not would make it."""
    from fanlight.store import default_folder
    from fanlight.store.store import DATABASE_FILE

    folder = default_folder() if data is None else data
    if not (folder / DATABASE_FILE).is_file():
        raise fail(f"{folder}: the desk keeps nothing there. Name its folder with --data.", ExitCode.SETTINGS)
    return folder


def _files(n_files: int) -> str:
    return f"{n_files} file{'' if n_files == 1 else 's'}"
