"""Fit the weights of the mode model on drawn screens and write src/fanlight/recognise/mode_weights.py.

Run from the root of the repository: ``PYTHONPATH=src python design/fit_mode_weights.py``. Seeds 1000 to 1599 are
fitted on, 5000 to 5199 are held out; the tests use others. No real file takes part.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from fanlight.frames.layout_of import read_layout
from fanlight.recognise.mode_features import feature_names, look_for_mode
from fanlight.study import Clip, Mode
from tests.recognise.mode_screens import draw_mode

EACH = 60
# Strength of the pull towards 0, chosen so that held-out probabilities are neither too bold nor too shy.
PULL = 0.02
# How often a mode is met beside the others, where drawn screens hold as many of each (common practice, no source):
# tissue Doppler is rare, and without words it looks like pulsed wave.
PREVALENCE = {Mode.TISSUE_DOPPLER: 0.15}


def rows_of(first_seed: int, each: int) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Features and mode numbers of drawn screens."""
    features, truths = [], []
    for number, mode in enumerate(Mode):
        for index in range(each):
            rng = np.random.default_rng(first_seed + number * each + index)
            drawn = draw_mode(rng, mode, words=bool(rng.uniform() < 0.6))
            _, rows, cols, _ = drawn.pixels.shape
            clip = Clip(
                key="", number=1, name="", container="", rows=rows, cols=cols, n_frames=len(drawn.pixels),
                is_colour=True,
            )  # fmt: skip
            layout = read_layout(clip, drawn.pixels, drawn.texts)
            features.append(look_for_mode(layout, drawn.pixels).as_row())
            truths.append(number)
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


def main() -> None:
    """Fit, print held-out accuracy and calibration, write the module."""
    modes = list(Mode)
    x, truth = rows_of(1000, EACH)
    weights, biases = fit(x, truth, len(modes))
    biases = biases + np.log([PREVALENCE.get(mode, 1.0) for mode in modes])
    held, held_truth = rows_of(5000, 20)
    logits = held @ weights.T + biases
    p = np.exp(logits - logits.max(axis=1, keepdims=True))
    p /= p.sum(axis=1, keepdims=True)
    said = p.argmax(axis=1)
    table = np.zeros((len(modes), len(modes)), int)
    np.add.at(table, (held_truth, said), 1)
    print(
        "held out: right",
        f"{np.mean(said == held_truth):.3f}",
        "mean probability of the said",
        f"{p.max(axis=1).mean():.3f}",
    )
    print(table)
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


if __name__ == "__main__":
    main()
