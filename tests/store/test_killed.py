"""Whatever a program was told is kept survives its being killed at any moment."""

from pathlib import Path

from measure._killed_store import kill_loop

N_KILLS, SEED = 10, 7


def test_nothing_acknowledged_is_lost(tmp_path: Path) -> None:
    """Every second kill comes after a first row at the earliest; the others while the store is made or opened, too."""
    report = kill_loop(tmp_path / "store", N_KILLS, SEED)

    assert report.n_kills == N_KILLS
    assert report.acknowledged["file"] >= N_KILLS // 2
