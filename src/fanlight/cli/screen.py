"""What a person sees in the terminal: words on standard output, errors and progress on standard error."""

from __future__ import annotations

import typer
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TaskID, TextColumn

from fanlight.cli.exit_code import ExitCode
from fanlight.study import Refusal

OUT = Console(highlight=False, soft_wrap=True)
ERR = Console(stderr=True, highlight=False, soft_wrap=True)


def fail(message: str, code: ExitCode) -> typer.Exit:
    """Print a message to standard error and return what ends the command: `raise fail(…)`."""
    ERR.print(message, markup=False)
    return typer.Exit(code)


def say_refusals(refused: tuple[Refusal, ...]) -> None:
    """List the files that could not be used."""
    if refused:
        n = len({item.name for item in refused})
        ERR.print(f"{n} file{'' if n == 1 else 's'} could not be used, or only in part:")
        for item in refused:
            ERR.print(f"  {item}", markup=False)


class Bar:
    """Progress over the clips, on standard error; silent when asked to be or when nobody watches."""

    def __init__(self, quiet: bool) -> None:
        self._progress = Progress(
            TextColumn("{task.description}"),
            BarColumn(bar_width=30),
            MofNCompleteColumn(),
            TextColumn("{task.fields[now]}"),
            console=ERR,
            transient=True,
            disable=quiet or not ERR.is_terminal,
        )
        self._task: TaskID | None = None

    def __enter__(self) -> Bar:
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
