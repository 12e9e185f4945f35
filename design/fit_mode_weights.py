"""Fit the weights of the mode model on drawn and simulated screens, and count what it says of screens it never saw.

Run from the root of the repository:

    PYTHONPATH=src python design/fit_mode_weights.py fit      writes src/fanlight/recognise/mode_weights.py
    PYTHONPATH=src python design/fit_mode_weights.py check    prints what is said of held-out animals, mode by mode

Drawn screens: seeds 1000 to 1599 are fitted on; the tests use others. Simulated ones, all of ring A: animals from 100
on are fitted on, those from 5000 on are held out. No real file takes part. Making the simulated screens takes about
a minute an animal and core; they are kept in the folder that ``--rungs`` names, and made when they are not there.
"""

from __future__ import annotations

import argparse
import pickle
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
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
from fanlight.study import Clip, Layout, Mode, ScreenText
from tests.recognise.mode_screens import draw_mode
from tests.recognise.simulated_rungs import MadeRung, rungs_to_tell

FIT_SEED, HELD_SEED = 100, 5000
EACH = 60
# Strength of the pull towards 0, chosen so that held-out probabilities are neither too bold nor too shy.
PULL = 0.02
SIMULATED_COUNTS = 3  # times a drawn screen: they are nearer to real ones
MISSED_WORDS = 0.15  # of the words of a screen, how many the reader misses
# How often a mode is met beside the others (common practice, no source): tissue Doppler is rare.
PREVALENCE = {Mode.TISSUE_DOPPLER: 0.3}

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


def drawn_table(first_seed: int, each: int) -> Table:
    """Features and mode numbers of drawn screens."""
    features, truths = [], []
    for number, mode in enumerate(Mode):
        for index in range(each):
            rng = np.random.default_rng(first_seed + number * each + index)
            drawn = draw_mode(rng, mode, words=bool(rng.uniform() < 0.6))
            clip = _clip(drawn.pixels)
            layout = read_layout(clip, drawn.pixels, drawn.texts)
            features.append(look_for_mode(layout, drawn.pixels).as_row())
            truths.append(number)
    return np.array(features), np.array(truths)


def _clip(pixels: NDArray[np.uint8], **own: object) -> Clip:
    n, rows, cols, _ = pixels.shape
    return Clip(
        key="", number=1, name="", container="", rows=rows, cols=cols, n_frames=n, is_colour=True, **own  # type: ignore[arg-type]
    )  # fmt: skip


def rungs(first_seed: int, n: int, folder: Path) -> Iterator[tuple[int, MadeRung]]:
    """Yield the simulated screens of animals, from the folder or made anew and put there."""
    folder.mkdir(parents=True, exist_ok=True)
    for seed in range(first_seed, first_seed + n):
        path = folder / f"{seed}.pkl"
        if not path.is_file():
            made = list(rungs_to_tell(seed))
            path.write_bytes(pickle.dumps(made))
        for rung in pickle.loads(path.read_bytes()):
            yield seed, rung


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


def simulated_table(first_seed: int, n: int, folder: Path) -> Table:
    """Features and mode numbers of simulated screens."""
    modes = list(Mode)
    features, truths = [], []
    for seed, rung in rungs(first_seed, n, folder):
        for item in seen(rung, np.random.default_rng([seed, 9])):
            features.append(look_for_mode(item.layout, item.pixels).as_row())
            truths.append(modes.index(item.mode))
    return np.array(features), np.array(truths)


def fit(
    x: NDArray[np.float64], truth: NDArray[np.int64], n_modes: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Multinomial logistic regression with a quadratic pull; returns weights (mode, feature) and biases."""
    n, width = x.shape
    hot = np.eye(n_modes)[truth]

    def loss(flat: NDArray[np.float64]) -> tuple[float, NDArray[np.float64]]:
        table = flat.reshape(n_modes, width + 1)
        logits = x @ table[:, :-1].T + table[:, -1]
        logits -= logits.max(axis=1, keepdims=True)
        p = np.exp(logits)
        p /= p.sum(axis=1, keepdims=True)
        value = -np.log(np.maximum((p * hot).sum(axis=1), 1e-12)).mean() + 0.5 * PULL * (table[:, :-1] ** 2).mean()
        error = (p - hot) / n
        slope = np.concatenate(
            [error.T @ x + PULL * table[:, :-1] / (n_modes * width), error.sum(axis=0)[:, None]], axis=1
        )
        return float(value), slope.ravel()

    found = minimize(loss, np.zeros(n_modes * (width + 1)), jac=True, method="L-BFGS-B", options={"maxiter": 3000})
    table = found.x.reshape(n_modes, width + 1)
    return table[:, :-1], table[:, -1]


def fit_and_write(n: int, folder: Path) -> None:
    """Fit on drawn and simulated screens and write the module."""
    modes = list(Mode)
    drawn, simulated = drawn_table(1000, EACH), simulated_table(FIT_SEED, n, folder)
    many = [drawn, *[simulated] * SIMULATED_COUNTS]
    x, truth = np.concatenate([one for one, _ in many]), np.concatenate([one for _, one in many])
    weights, biases = fit(x, truth, len(modes))
    said = (x @ weights.T + biases).argmax(axis=1)
    print(f"fitted on {len(truth)} screens, {np.mean(said == truth):.3f} of them right")
    biases = biases + np.log([PREVALENCE.get(mode, 1.0) for mode in modes])
    write(weights, biases)


def write(weights: NDArray[np.float64], biases: NDArray[np.float64]) -> None:
    """Write the module of the weights."""
    modes = list(Mode)
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
    target = Path(__file__).resolve().parents[1] / "src/fanlight/recognise/mode_weights.py"
    target.write_text("\n".join(lines) + "\n")


def check(n: int, folder: Path) -> None:
    """Print what is said of held-out animals, with and without words and regions."""
    counts: dict[str, Counter[tuple[str, str]]] = {}
    for seed, rung in rungs(HELD_SEED, n, folder):
        for item in seen(rung, np.random.default_rng([seed, 9])):
            reading = read_mode(item.clip, item.layout, item.pixels)
            said = str(reading.mode) if reading.mode else "spectrum" if reading.is_spectrum else "not sure"
            known = (
                f"words {'read' if item.has_words else 'not read'}, regions {'told' if item.has_regions else 'none'}"
            )
            counts.setdefault(known, Counter())[str(item.mode), said] += 1
    for known, table in counts.items():
        named = [(true, said, k) for (true, said), k in table.items() if said not in ("spectrum", "not sure")]
        total, right = sum(k for *_, k in named), sum(k for true, said, k in named if true == said)
        print(f"{known}: {total} of {sum(table.values())} named, {right} of them right")
        for (true, said), k in sorted(table.items()):
            print(f"    {true:18} said {said:18} {k}")


def main() -> None:
    """Fit or check."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("what", choices=("fit", "check"))
    parser.add_argument("--animals", type=int, default=60, help="so many")
    parser.add_argument("--rungs", type=Path, default=Path(tempfile.gettempdir()) / "fanlight-mode-rungs")
    given = parser.parse_args()
    (fit_and_write if given.what == "fit" else check)(given.animals, given.rungs)


if __name__ == "__main__":
    main()
