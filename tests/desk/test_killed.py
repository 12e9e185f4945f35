"""Whatever the desk answered survives its being killed at any moment.

For many more rounds: `scripts/measure desk_killed`.
"""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from fanlight.store import add_entry, add_study, new_id, open_store
from fanlight.store.actions import TakeClipOut
from measure._killed_checks import LostError, check_store
from measure._killed_desk import PHASES, KillLoop
from measure._killed_page import Memory, Request
from measure.desk_killed import joined

SEED = 152  # each phase gets some answers, and service, engine and both are killed


@pytest.mark.skipif(sys.platform == "win32", reason="processes are found and ended in another way there")
def test_nothing_answered_is_lost(tmp_path: Path) -> None:
    """A round while files come, clips are read, findings decided and papers signed; then a last life reads the rest."""
    loop = KillLoop(tmp_path / "store", SEED, n_clips=4)
    for phase in PHASES:
        loop.round(phase)
    loop.finish()

    assert [loop.tallies[phase].rounds for phase in PHASES] == [1] * len(PHASES)
    assert all(loop.tallies[phase].answered > 0 for phase in ("upload", "deciding", "signing"))


def test_a_loss_would_be_seen(tmp_path: Path) -> None:
    """The check itself: an answer that left no row, and a row that nobody asked for."""
    with open_store(tmp_path / "store") as store:
        study = add_study(store, new_id(), title="x").id
        there = add_entry(store, study, TakeClipOut(clip="c"), author="M", entry=new_id()).id
        request = Request(kind="act", study=study, id=there, path="")
        check_store(store, Memory(kept=[(request, there)], sent={there}))
        with pytest.raises(LostError, match="nobody sent"):
            check_store(store, Memory(kept=[(request, there)], sent=set()))
        with pytest.raises(LostError, match="act"):
            check_store(store, Memory(kept=[(request, new_id())], sent={there}))


def test_runs_that_shared_the_rounds_count_as_one() -> None:
    """In any order; a gap, rounds done twice and other code are refused."""
    first = {"first": 0, "rounds": 40, "seed": 1, "contents": "x", "again": 2, "phases": {"upload": {"rounds": 10}}}
    second = {**first, "first": 40, "rounds": 80, "phases": {"upload": {"rounds": 10, "answered": 5}}}
    whole = joined([second, first])
    assert (whole["rounds"], whole["again"], whole["phases"]) == (80, 4, {"upload": {"rounds": 20, "answered": 5}})
    for wrong in ({**second, "first": 80}, {**second, "first": 0}, {**second, "contents": "y"}):
        with pytest.raises(SystemExit):
            joined([first, wrong])
