"""Tables of what was measured on M-mode strips against what is true."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from measure._confidently_wrong import is_confidently_wrong
from measure._wilson import Z_95, wilson

Record = dict[str, Any]

QUANTITIES = {
    "lvidd": "LVIDd", "lvids": "LVIDs", "ivsd": "IVSd", "ivss": "IVSs", "lvwd": "LVWd", "lvws": "LVWs",
    "fractional_shortening": "FS", "heart_rate": "heart rate",
}  # fmt: skip
# Target tolerance, share of the truth: 3 % of a diameter of the left ventricle, the project's target; walls of some
# millimetres and what is computed from two diameters 10 %, the rate 3 % (engineering judgement).
TOLERANCE = {"lvidd": 0.03, "lvids": 0.03, "heart_rate": 0.03}
USUAL_TOLERANCE = 0.10


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """What was given of one quantity on some strips."""

    asked: int
    off: tuple[float, ...]  # of those given, as shares of the true value
    scaled: tuple[float, ...]  # the same in stated standard deviations

    @property
    def given(self) -> int:
        """Strips with a value."""
        return len(self.off)


def figures_of(records: Iterable[Record], key: str, quantity: str) -> Figures:
    """Return how far the values of one quantity lie from the truth, of all strips on which there is a truth."""
    items = [record[key][quantity] for record in records if "not_drawn" not in record]
    items = [item for item in items if item["true"]]
    given = [item for item in items if item["value"] is not None]
    return Figures(
        asked=len(items),
        off=tuple((item["value"] - item["true"]) / item["true"] for item in given),
        scaled=tuple((item["value"] - item["true"]) / item["uncertainty"] for item in given),
    )


def main_table(rings: Mapping[str, Sequence[Record]], key: str) -> str:
    """Return bias, spread, coverage and refusals of each quantity, rings side by side."""
    lines = [
        "| quantity | ring | strips | refused | bias | SD | RMS | limits of agreement | inside the stated 95 % band"
    ]
    lines[0] += " | confident and wrong |"
    lines.append("|---|---|---|---|---|---|---|---|---|---|")
    for quantity, title in QUANTITIES.items():
        for ring, records in rings.items():
            cells = _cells(figures_of(records, key, quantity), TOLERANCE.get(quantity, USUAL_TOLERANCE))
            lines.append(f"| {title} | {ring} | {cells} |")
    undrawn = {ring: sum("not_drawn" in record for record in records) for ring, records in rings.items()}
    left = ", ".join(f"{n} of ring {ring}" for ring, n in undrawn.items() if n)
    return "\n".join(lines) + (f"\n\nNot drawn, since no line crosses both ventricles: {left}." if left else "")


def _cells(figures: Figures, tolerance: float) -> str:
    refused = _share(figures.asked - figures.given, figures.asked)
    if figures.given < 2:
        return f"{figures.asked} | {refused} | – | – | – | – | – | –"
    off = 100 * np.array(figures.off)
    inside = int((np.abs(figures.scaled) <= Z_95).sum())
    wrong = sum(
        is_confidently_wrong(off=share, in_deviations=z, tolerance=tolerance)
        for share, z in zip(figures.off, figures.scaled, strict=True)
    )
    bias, sd = float(off.mean()), float(off.std(ddof=1))
    limits = f"{bias - Z_95 * sd:+.1f} to {bias + Z_95 * sd:+.1f} %"
    rms = float(np.sqrt((off**2).mean()))
    shares = f"{_share(inside, figures.given)} | {_share(wrong, figures.given)}"
    return f"{figures.asked} | {refused} | {bias:+.1f} % | {sd:.1f} % | {rms:.1f} % | {limits} | {shares}"


def by_class_table(rings: Mapping[str, Sequence[Record]]) -> str:
    """Return RMS error, coverage and refusals by class of heart, with an ECG."""
    names = " | ".join(f"{what}, ring {ring}" for ring in rings for what in ("LVIDd", "LVIDs", "IVSd", "LVWd"))
    lines = [f"| heart | {names} |", "|---" * (4 * len(rings) + 1) + "|"]
    hearts = sorted({r["heart"] for records in rings.values() for r in records if "heart" in r})
    for heart in hearts:
        cells = []
        for records in rings.values():
            of_class = [record for record in records if record.get("heart") == heart]
            cells += [_short(figures_of(of_class, "ecg", key)) for key in ("lvidd", "lvids", "ivsd", "lvwd")]
        lines.append(f"| {heart.replace('_', ' ')} | {' | '.join(cells)} |")
    legend = "RMS error; refused of asked; share of those given inside their stated 95 % band."
    return "\n".join(lines) + f"\n\n{legend}"


def _short(figures: Figures) -> str:
    refused = f"{figures.asked - figures.given} of {figures.asked} refused"
    if not figures.given:
        return refused
    rms = 100 * float(np.sqrt(np.mean(np.square(figures.off))))
    inside = float(np.mean(np.abs(figures.scaled) <= Z_95))
    return f"{rms:.1f} %; {refused}; {100 * inside:.0f} % inside"


def _share(part: int, n: int) -> str:
    low, high = wilson(part, n)
    return f"{100 * part / n:.0f} % ({100 * low:.0f}–{100 * high:.0f})" if n else "–"
