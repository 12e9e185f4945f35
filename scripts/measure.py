"""Run the scripts in measure/, which write the measured tables of docs/.

python scripts/measure.py [NAME ...]     NAME: a script of measure/, without .py; all of them when none is named
python scripts/measure.py NAME --OPTION …     options of that script
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


def main(arguments: list[str]) -> int:
    """Run the named scripts one after the other; return the first exit code that is not 0."""
    n = next((k for k, each in enumerate(arguments) if each.startswith("-")), len(arguments))
    names, options = arguments[:n], arguments[n:]
    if options and len(names) != 1:
        print(f"{' '.join(options)}: name the one script that these options are for", file=sys.stderr)
        return 2
    there = sorted(path.stem for path in (ROOT / "measure").glob("[!_]*.py"))
    unknown = sorted(set(names) - set(there))
    if unknown:
        print(f"measure/ holds no {', '.join(unknown)}; it holds {', '.join(there) or 'nothing'}", file=sys.stderr)
        return 2
    for name in names or there:
        print(f"measure/{name}.py", file=sys.stderr, flush=True)
        code = subprocess.call([sys.executable, "-m", f"measure.{name}", *options], cwd=ROOT)
        if code:
            return code
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
