"""Run the checks that need no test, all of them, and say at the end which failed.

python scripts/check.py [NAME ...]     NAME: one of the checks below; all of them when none is named
"""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
BESIDE_PYTHON = Path(sys.executable).parent

# name -> what it runs; a leading "python" is this interpreter, other programs lie beside it in .venv
CHECKS: dict[str, tuple[str, ...]] = {
    "format": ("ruff", "format", "--check", "."),
    "lint": ("ruff", "check", "."),
    "types": ("mypy",),
    "layers": ("lint-imports",),
    "tree": ("python", "scripts/tree.py"),
    "locks": ("python", "scripts/lock.py", "--check"),
    "changelog": ("python", "scripts/changelog.py"),
    "measured": ("python", "-m", "scripts.measured"),
    "cli-page": ("python", "scripts/cli_page.py", "--check"),
    "schema": ("python", "scripts/schema_page.py", "--check"),
    "pages": ("python", "scripts/pages.py"),
    "docs": ("python", "-m", "sphinx", "-W", "--keep-going", "-n", "-q", "-b", "html", "docs", "docs/_build/html"),
}


def main(names: list[str]) -> int:
    """Run the named checks; return 1 if one failed."""
    unknown = sorted(set(names) - set(CHECKS))
    if unknown:
        print(f"no check is called {', '.join(unknown)}; there are {', '.join(CHECKS)}", file=sys.stderr)
        return 2
    failed: list[str] = []
    for name in names or CHECKS:
        program, *arguments = CHECKS[name]
        command = [sys.executable if program == "python" else str(BESIDE_PYTHON / program), *arguments]
        print(f"== {name}: {program} {' '.join(arguments)}", flush=True)
        start = time.monotonic()
        if subprocess.call(command, cwd=ROOT) != 0:
            failed.append(name)
        print(f"   {name}: {'FAILED' if name in failed else 'good'}, {time.monotonic() - start:.1f} s", flush=True)
    print(f"checks failed: {', '.join(failed)}" if failed else "all checks are good")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
