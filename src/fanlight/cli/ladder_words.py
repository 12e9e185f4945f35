"""What the rules of the Doppler ladder say of a study, printed."""

from __future__ import annotations

from collections.abc import Iterable

from fanlight.cli.screen import OUT
from fanlight.study import ValveLadder


def say_ladders(ladders: Iterable[ValveLadder], is_quiet: bool) -> None:
    """Print each rule that a study does not keep at a valve, a line each."""
    if is_quiet:
        return
    for ladder in ladders:
        for found in ladder.findings:
            OUT.print(f"{ladder.valve} valve, {found.rule}: {found.words}", markup=False)
