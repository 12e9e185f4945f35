"""Review one real ultrasound clip and say where the results lie.

    python scripts/demo.py [--no-serve] [--out DIR]

The clip comes out of the pydicom package, where it serves as a test file. It is of a person, so no request sheet is put
beside it: the letter has to say what is missing. There is nothing to serve yet; the paths are printed either way.
"""

from __future__ import annotations

import argparse
import shutil
import subprocess
import sys
from pathlib import Path

from pydicom.data import get_testdata_file

ROOT = Path(__file__).resolve().parent.parent
CLIP = "examples_ybr_color.dcm"  # a heart, 2-D, 30 frames, no ECG


def main(arguments: list[str]) -> int:
    """Run the review; return its exit code."""
    parser = argparse.ArgumentParser(prog="scripts/demo", description="Review one real ultrasound clip.")
    parser.add_argument("--out", type=Path, default=ROOT / "demo-output", help="folder for the study and the results")
    parser.add_argument("--no-serve", action="store_true", help="only print the paths (there is nothing to serve yet)")
    out = parser.parse_args(arguments).out.resolve()
    clip = get_testdata_file(CLIP, download=False)
    if clip is None:
        print(f"pydicom came without its test file {CLIP}; remove .venv and run this again", file=sys.stderr)
        return 1
    study, results = out / "study", out / "review"
    study.mkdir(parents=True, exist_ok=True)
    shutil.copyfile(str(clip), study / CLIP)
    print(f"Reviewing {study / CLIP}", flush=True)
    code = subprocess.call(
        [sys.executable, "-m", "fanlight.cli", "review", str(study), "--out", str(results)], cwd=ROOT
    )
    if code == 0:
        print(f"The results lie in {results}. Start with letter.pdf, then summary.pdf and study-sheet.html.")
    else:
        print(f"The review ended with exit code {code}; docs/cli.md says what that means.", file=sys.stderr)
    return code


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
