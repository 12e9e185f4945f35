"""Measure how long a fresh clone takes to set itself up, and write the table in docs/fresh-machine.md.

Each set of packages is installed into a new copy of the last commit, without pip's cache, so downloads count.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from scripts.measured import write_table

ROOT = Path(__file__).resolve().parent.parent
SETS = ("run", "test", "docs")


def set_up(name: str, folder: Path) -> tuple[float, float, float]:
    """Return seconds of the first set-up, seconds of the second, and MB of the environment."""
    subprocess.run(["git", "clone", "--quiet", str(ROOT), str(folder)], check=True)
    environment = {**os.environ, "PIP_NO_CACHE_DIR": "1"}
    environment.pop("PYTHONPATH", None)
    seconds = []
    for _ in range(2):
        start = time.perf_counter()
        subprocess.run([sys.executable, "scripts/bootstrap.py", name], cwd=folder, env=environment, check=True)
        seconds.append(time.perf_counter() - start)
    size_bytes = sum(path.stat().st_size for path in (folder / ".venv").rglob("*") if path.is_file())
    return seconds[0], seconds[1], size_bytes / 1e6


def main() -> None:
    """Measure the three sets, one after the other."""
    rows = ["| set | first set-up, s | again, s | .venv, MB |", "|---|---|---|---|"]
    for name in SETS:
        with tempfile.TemporaryDirectory() as folder:
            first_s, again_s, size_mb = set_up(name, Path(folder) / "clone")
        rows.append(f"| `{name}` | {first_s:.0f} | {again_s:.2f} | {size_mb:.0f} |")
    write_table(
        ROOT / "docs" / "fresh-machine.md",
        "set-up",
        "\n".join(rows),
        script="measure/fresh_machine.py",
        describes=["requirements", "scripts/bootstrap.py"],
    )


if __name__ == "__main__":
    main()
