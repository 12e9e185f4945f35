"""Fit the weights of the mode model on drawn and simulated screens, and count what it says of screens it never saw.

Run from the root of the repository:

    PYTHONPATH=src python design/fit_mode_weights.py fit      writes src/fanlight/recognise/mode_weights.py
    PYTHONPATH=src python design/fit_mode_weights.py check    prints what is said of held-out animals, mode by mode

Drawn screens: seeds 1000 to 2199 are fitted on; the tests use others. Simulated ones, all of ring A: animals from 100
on are fitted on, those from 5000 on are held out. No real file takes part. Making the simulated screens takes about
a minute an animal and core; they are kept in a folder of the user's temporary files named after the code that makes
them.
"""

from __future__ import annotations

import argparse
import getpass
import hashlib
import pickle
import sys
import tempfile
from collections import Counter
from collections.abc import Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from itertools import product
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from fanlight.frames.find_picture import find_picture
from fanlight.frames.layout_of import read_layout
from fanlight.frames.polar import to_grey
from fanlight.frames.quantities import parse_quantities
from fanlight.frames.screen_text import join_units
from fanlight.recognise.mode import read_mode
from fanlight.recognise.mode_features import feature_names, look_for_mode
from fanlight.study import SPECTRA, Clip, Layout, Mode, ScreenText
from tests.recognise.mode_screens import draw_mode
from tests.recognise.simulated_rungs import MadeRung, rungs_to_tell

ROOT = Path(__file__).resolve().parents[1]
MAKES_RUNGS = ("src/fanlight/heart", "src/fanlight/simulate", "tests/recognise")
FIT_SEED, HELD_SEED = 100, 5000
EACH = 120
# Strength of the pull towards 0, chosen so that held-out probabilities are neither too bold nor too shy.
PULL = 0.01
# Share of the weight that simulated screens have: with more, drawn stills, double pictures and probes in the air, of
# which none is simulated, are told worse; with none, simulated spectra are (tried: 0, 0.1, 0.3, 0.5).
SIMULATED_SHARE = 0.1
SPECTRUM_COUNTS = 1.5  # spectra come in more shapes than any other mode
MISSED_WORDS = 0.15  # of the words of a screen, how many the reader misses
# Which kind of spectrum it is, is told by signs of its own: here they are one.
GROUPS = tuple(mode for mode in Mode if mode not in SPECTRA[1:])

Row = tuple[tuple[float, ...], Mode]
Table = tuple[NDArray[np.float64], NDArray[np.int64]]


@dataclass(frozen=True, kw_only=True, eq=False)
class Seen:
    """One simulated screen as the engine meets it: with or without words that are read, and regions in its file."""

    mode: Mode
    clip: Clip
    layout: Layout
    pixels: NDArray[np.uint8]
    has_words: bool
    has_regions: bool


def drawn_rows(first_seed: int, mode: Mode, each: int) -> list[Row]:
    """Return features and mode of drawn screens of one mode."""
    rows = []
    for index in range(each):
        rng = np.random.default_rng(first_seed + list(Mode).index(mode) * each + index)
        drawn = draw_mode(rng, mode, words=bool(rng.uniform() < 0.6))
        clip = _clip(drawn.pixels)
        layout = read_layout(clip, drawn.pixels, drawn.texts)
        rows.append((look_for_mode(layout, drawn.pixels).as_row(), mode))
    return rows


def _clip(pixels: NDArray[np.uint8], **own: object) -> Clip:
    n, rows, cols, _ = pixels.shape
    return Clip(
        key="", number=1, name="", container="", rows=rows, cols=cols, n_frames=n, is_colour=True, **own  # type: ignore[arg-type]
    )  # fmt: skip


def rungs_folder() -> Path:
    """Return where this user's screens of this simulator lie: those of other code are not taken for them."""
    files = sorted(path for room in MAKES_RUNGS for path in (ROOT / room).rglob("*.py"))
    told = hashlib.sha256(b"".join(path.read_bytes() for path in files)).hexdigest()[:12]
    return Path(tempfile.gettempdir()) / f"fanlight-mode-{getpass.getuser()}" / f"rungs-{told}"


def rungs(seed: int, folder: Path) -> list[MadeRung]:
    """Return the simulated screens of one animal, from the folder or made anew and put there."""
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    path = folder / f"{seed}.pkl"
    if not path.is_file():
        path.write_bytes(pickle.dumps(list(rungs_to_tell(seed))))
    made: list[MadeRung] = pickle.loads(path.read_bytes())
    return made


def seen(rung: MadeRung, rng: np.random.Generator) -> Iterator[Seen]:
    """Yield a screen with and without words that are read, and regions in the file."""
    words = join_units(
        tuple(
            ScreenText(
                text=item.text, box=item.box, confidence=0.95, quantities=parse_quantities(item.text), is_technical=True
            )
            for item in rung.screen.texts
            if not item.identity and rng.random() > MISSED_WORDS
        )
    )
    for has_regions, has_words in product((False, True), repeat=2):
        clip = _clip(rung.pixels, regions=rung.regions if has_regions else ())
        if not has_words:
            found = find_picture(to_grey(rung.pixels), clip.regions)
        layout = read_layout(clip, rung.pixels, words if has_words else (), found=found)
        yield Seen(
            mode=rung.mode, clip=clip, layout=layout, pixels=rung.pixels, has_words=has_words, has_regions=has_regions
        )


def simulated_rows(seed: int, folder: Path) -> list[Row]:
    """Return features and mode of the simulated screens of one animal."""
    rng = np.random.default_rng([seed, 9])
    items = (item for rung in rungs(seed, folder) for item in seen(rung, rng))
    return [(look_for_mode(item.layout, item.pixels).as_row(), item.mode) for item in items]


def as_table(rows: Iterable[Row]) -> Table:
    """Return features and numbers of groups of modes."""
    features, truths = [], []
    for row, mode in rows:
        features.append(row)
        truths.append(GROUPS.index(SPECTRA[0] if mode in SPECTRA else mode))
    return np.array(features), np.array(truths)


def fit(table: Table, worth: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Multinomial logistic regression with a quadratic pull; returns weights (group, feature) and biases."""
    x, truth = table
    n_groups, width = len(GROUPS), x.shape[1]
    hot = np.eye(n_groups)[truth]

    def loss(flat: NDArray[np.float64]) -> tuple[float, NDArray[np.float64]]:
        numbers = flat.reshape(n_groups, width + 1)
        logits = x @ numbers[:, :-1].T + numbers[:, -1]
        logits -= logits.max(axis=1, keepdims=True)
        p = np.exp(logits)
        p /= p.sum(axis=1, keepdims=True)
        missed = -(worth * np.log(np.maximum((p * hot).sum(axis=1), 1e-12))).sum()
        error = (p - hot) * worth[:, None]
        slope = np.concatenate(
            [error.T @ x + PULL * numbers[:, :-1] / (n_groups * width), error.sum(axis=0)[:, None]], axis=1
        )
        return float(missed + 0.5 * PULL * (numbers[:, :-1] ** 2).mean()), slope.ravel()

    found = minimize(loss, np.zeros(n_groups * (width + 1)), jac=True, method="L-BFGS-B", options={"maxiter": 3000})
    if not found.success:
        raise RuntimeError(f"the fit did not come to an end: {found.message}")
    numbers = found.x.reshape(n_groups, width + 1)
    return numbers[:, :-1], numbers[:, -1]


def worths(drawn: Table, simulated: Table) -> NDArray[np.float64]:
    """Return what each screen counts: simulated modes by the root of their number, all in all their share."""
    counts = np.bincount(simulated[1], minlength=len(GROUPS))
    of_group = 1.0 / np.sqrt(np.maximum(counts, 1))
    of_group[GROUPS.index(SPECTRA[0])] *= SPECTRUM_COUNTS
    made = of_group[simulated[1]]
    return np.concatenate(
        [
            np.full(len(drawn[1]), (1 - SIMULATED_SHARE) / len(drawn[1])),
            made * SIMULATED_SHARE / made.sum(),
        ]
    )


def fit_and_write(n: int, folder: Path, pool: ProcessPoolExecutor) -> None:
    """Fit on drawn and simulated screens and write the module."""
    of_animals = [pool.submit(simulated_rows, seed, folder) for seed in range(FIT_SEED, FIT_SEED + n)]
    of_modes = [pool.submit(drawn_rows, 1000, mode, EACH) for mode in Mode]
    drawn = as_table(row for job in of_modes for row in job.result())
    simulated = as_table(row for job in of_animals for row in job.result())
    both = np.concatenate([drawn[0], simulated[0]]), np.concatenate([drawn[1], simulated[1]])
    weights, biases = fit(both, worths(drawn, simulated))
    for name, (x, truth) in {"drawn": drawn, "simulated": simulated}.items():
        said = (x @ weights.T + biases).argmax(axis=1)
        print(f"fitted on {len(truth)} {name} screens, {np.mean(said == truth):.3f} of them right")
    write(weights, biases)


def write(weights: NDArray[np.float64], biases: NDArray[np.float64]) -> None:
    """Write the module of the weights; the kinds of spectrum share what speaks for one."""
    modes = list(Mode)
    group = [GROUPS.index(SPECTRA[0] if mode in SPECTRA else mode) for mode in modes]
    weights = weights[group]
    biases = biases[group] - np.log([len(SPECTRA) if mode in SPECTRA else 1.0 for mode in modes])
    lines = [
        '"""Weights of the mode model. Written by design/fit_mode_weights.py; do not edit."""\n',
        "from fanlight.study import Mode\n",
        "# Order of the columns: fanlight.recognise.mode_features.feature_names.",
        "FEATURES: tuple[str, ...] = (",
        *(f'    "{name}",' for name in feature_names()),
        ")\n",
        "BIASES: dict[Mode, float] = {",
        *(f"    Mode.{mode.name}: {bias:.2f}," for mode, bias in zip(modes, biases, strict=True)),
        "}\n",
        "# fmt: off",
        "WEIGHTS: dict[Mode, tuple[float, ...]] = {",
    ]
    for mode, row in zip(modes, weights, strict=True):
        lines.append(f"    Mode.{mode.name}: (")
        for start in range(0, len(row), 10):
            lines.append("        " + ", ".join(f"{value:.2f}" for value in row[start : start + 10]) + ",")
        lines.append("    ),")
    lines += ["}", "# fmt: on"]
    target = ROOT / "src/fanlight/recognise/mode_weights.py"
    target.write_text("\n".join(lines) + "\n")


def said_of(seed: int, folder: Path) -> Counter[tuple[str, str, str]]:
    """Count what is said of the screens of one animal: what was known of them, what is true, what was said."""
    counts: Counter[tuple[str, str, str]] = Counter()
    rng = np.random.default_rng([seed, 9])
    for rung in rungs(seed, folder):
        for item in seen(rung, rng):
            reading = read_mode(item.clip, item.layout, item.pixels)
            said = str(reading.mode) if reading.mode else "spectrum" if reading.is_spectrum else "not sure"
            known = (
                f"words {'read' if item.has_words else 'not read'}, regions {'told' if item.has_regions else 'none'}"
            )
            counts[known, str(item.mode), said] += 1
    return counts


def check(n: int, folder: Path, pool: ProcessPoolExecutor) -> None:
    """Print what is said of held-out animals, with and without words and regions."""
    jobs = [pool.submit(said_of, seed, folder) for seed in range(HELD_SEED, HELD_SEED + n)]
    counts = sum((job.result() for job in jobs), Counter[tuple[str, str, str]]())
    for known in sorted({key[0] for key in counts}):
        table = {(true, said): k for (where, true, said), k in counts.items() if where == known}
        named = {key: k for key, k in table.items() if key[1] not in ("spectrum", "not sure")}
        right = sum(k for (true, said), k in named.items() if true == said)
        print(f"{known}: {sum(named.values())} of {sum(table.values())} named, {right} of them right")
        for (true, said), k in sorted(table.items()):
            print(f"    {true:18} said {said:18} {k}")


def main() -> None:
    """Fit or check."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("what", choices=("fit", "check"))
    parser.add_argument("--animals", type=int, default=90, help="so many")
    parser.add_argument("--rungs", type=Path, default=rungs_folder())
    parser.add_argument("--processes", type=int, default=2, help="so many at a time")
    given = parser.parse_args()
    with ProcessPoolExecutor(given.processes) as pool:
        (fit_and_write if given.what == "fit" else check)(given.animals, given.rungs, pool)


if __name__ == "__main__":
    main()
