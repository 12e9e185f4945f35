"""Tables of how near the values of spectra come to the truth, how well they know it, and what is refused."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from measure._confidently_wrong import is_confidently_wrong
from measure._share_of_animals import share_interval
from measure._spectral_rungs import Answer
from measure._wilson import Z_95

# Names and titles of the values, in the order of the table.
VALUES = (
    ("aortic_vmax", "aortic peak velocity"), ("pulmonary_vmax", "pulmonary peak velocity"),
    ("aortic_vti", "aortic velocity-time integral"), ("pulmonary_vti", "pulmonary velocity-time integral"),
    ("aortic_mean_gradient", "aortic mean gradient"), ("pulmonary_mean_gradient", "pulmonary mean gradient"),
    ("aortic_acceleration_time", "aortic acceleration time"), ("pa_acceleration_time", "pulmonary acceleration time"),
    ("aortic_ejection_time", "aortic ejection time"), ("pa_ejection_time", "pulmonary ejection time"),
    ("mitral_e", "mitral E"), ("mitral_a", "mitral A"), ("mitral_e_a", "mitral E:A"),
    ("mitral_e_deceleration_time", "mitral E deceleration time"), ("mitral_a_duration", "mitral A duration"),
    ("tricuspid_e", "tricuspid E"), ("tricuspid_a", "tricuspid A"),
    ("mr_vmax", "mitral regurgitation peak velocity"), ("tr_vmax", "tricuspid regurgitation peak velocity"),
    ("ivrt", "isovolumic relaxation time"),
    ("mitral_annulus_s", "mitral ring S'"), ("mitral_annulus_e", "mitral ring E'"),
    ("mitral_annulus_a", "mitral ring A'"), ("tricuspid_annulus_s", "tricuspid ring S'"),
    ("tricuspid_annulus_e", "tricuspid ring E'"), ("tricuspid_annulus_a", "tricuspid ring A'"),
)  # fmt: skip
# Target tolerance, share of the truth: 3 % of a velocity and 5 % of an integral, the project's targets; twice that of
# the velocity for what goes with its square or holds two; times 10 % (engineering judgement).
VELOCITY, TWO_VELOCITIES, INTEGRAL, TIME = 0.03, 0.06, 0.05, 0.10
GAIN_VALUES = ("aortic_vmax", "pulmonary_vmax", "mitral_e", "tricuspid_e", "aortic_vti", "pulmonary_vti", "mr_vmax")

GAINS = (("2 to 6 dB below", -9.0, -2.0), ("usual", -2.0, 2.0), ("2 to 6 dB above", 2.0, 9.0))


def tables(found: Mapping[str, Sequence[Answer]]) -> dict[str, str]:
    """Return the tables by name, of answers by ring."""
    return {
        "spectral-values": _main(found), "spectral-values-open": _open(found), "spectral-values-gain": _gain(found),
        "spectral-values-class": _classes(found),
    }  # fmt: skip


def tolerance_of(name: str) -> float:
    """Return by which share of the truth a value may err."""
    if name.endswith("_vti"):
        return INTEGRAL
    if name.endswith(("_time", "_duration", "_at_et")) or name == "ivrt":
        return TIME
    return TWO_VELOCITIES if name.endswith(("_gradient", "_e_a")) else VELOCITY


def is_wrong(item: Answer) -> bool:
    """Whether a number is confidently wrong."""
    if item.value is None or item.truth is None or item.uncertainty is None:
        return False
    off = item.value - item.truth
    return is_confidently_wrong(
        off=off / item.truth, in_deviations=off / max(item.uncertainty, 1e-9), tolerance=tolerance_of(item.name)
    )


def _main(found: Mapping[str, Sequence[Answer]]) -> str:
    head = "| value | ring | n | animals | given | bias | SD | RMS | limits of agreement | inside the 95 % band "
    lines = [head + "| confident and wrong | given without a truth |", "|---" * 12 + "|"]
    for name, title in VALUES:
        for ring, answers in found.items():
            lines += _row(f"{title} | {ring}", [item for item in answers if item.name == name])
    lines += _row("**all velocities** | all", [i for a in found.values() for i in a if _is_velocity(i.name)])
    return "\n".join(lines)


def _is_velocity(name: str) -> bool:
    return name.endswith("_vmax") or name in ("mitral_e", "mitral_a", "tricuspid_e", "tricuspid_a")


def _row(start: str, answers: Sequence[Answer]) -> list[str]:
    """Return one line of the table; none where the value was asked of no spectrum."""
    if not answers:
        return []
    absent = [item for item in answers if item.truth is None]
    made_up = _of(sum(item.value is not None for item in absent), len(absent))
    asked = [item for item in answers if item.truth is not None and not item.wraps]
    given = [item for item in asked if item.value is not None]
    if not given:
        share = _share((), asked) if asked else "–"
        return [f"| {start} | {len(asked)} | {_animals(asked)} | {share} | – | – | – | – | – | – | {made_up} |"]
    off, z = _errors(given)
    bias, spread = float(off.mean()), float(off.std(ddof=1)) if len(off) > 1 else 0.0
    inside = [item for item, far in zip(given, np.abs(z), strict=True) if far <= Z_95]
    wrong = [item for item in given if is_wrong(item)]
    return [
        f"| {start} | {len(asked)} | {_animals(asked)} | {_share(given, asked)} | {100 * bias:+.1f} % "
        f"| {100 * spread:.1f} % "
        f"| {100 * float(np.sqrt((off**2).mean())):.1f} % "
        f"| {100 * (bias - Z_95 * spread):+.0f} to {100 * (bias + Z_95 * spread):+.0f} % "
        f"| {_share(inside, given)} | {_share(wrong, given)} | {made_up} |"
    ]


def _of(part: int, n: int) -> str:
    return f"{part} of {n}" if n else "–"


def _open(found: Mapping[str, Sequence[Answer]]) -> str:
    """Return what was said of flow that truly runs out of the strip: numbers given there, and how many are wrong."""
    lines = ["| value | ring | spectra | numbers given | of these confident and wrong |", "|---" * 5 + "|"]
    for name, title in VALUES:
        for ring, answers in found.items():
            asked = [item for item in answers if item.name == name and item.wraps and item.truth is not None]
            given = [item for item in asked if item.value is not None]
            if asked:
                wrong = sum(is_wrong(item) for item in given)
                lines.append(f"| {title} | {ring} | {len(asked)} | {len(given)} | {wrong} |")
    return "\n".join(lines)


def _errors(given: Iterable[Answer]) -> tuple[np.ndarray, np.ndarray]:
    """Return relative errors, and errors over the stated standard deviation."""
    rows = [(item.value, item.truth, item.uncertainty) for item in given]
    value, truth, stated = (np.asarray(part, float) for part in zip(*rows, strict=True))
    return value / truth - 1, (value - truth) / np.maximum(stated, 1e-9)


def _animals(answers: Iterable[Answer]) -> int:
    return len({item.seed for item in answers})


def _share(part: Sequence[Answer], whole: Sequence[Answer]) -> str:
    """Return a share of some answers with its 95 % interval.

    Spectra of one animal are alike, those of one beam on several consoles most of all: the interval counts animals.
    """
    share = len(part) / len(whole)
    low, high = share_interval(share, _animals(whole))
    return f"{100 * share:.0f} % ({100 * low:.0f}–{100 * high:.0f})"


def _gain(found: Mapping[str, Sequence[Answer]]) -> str:
    """Return how far values lie off, and how many are given, by how the gain was turned."""
    lines = ["| value | ring | gain | n | given | bias |", "|---" * 6 + "|"]
    titles = dict(VALUES)
    for name in GAIN_VALUES:
        for ring, answers in found.items():
            for words, low, high in GAINS:
                own = [item for item in answers if item.name == name and low <= item.gain_db < high]
                asked = [item for item in own if item.truth is not None and not item.wraps]
                given = [item for item in asked if item.value is not None]
                if asked:
                    bias = f"{100 * float(_errors(given)[0].mean()):+.1f} %" if given else "–"
                    share = _share(given, asked)
                    lines.append(f"| {titles[name]} | {ring} | {words} | {len(asked)} | {share} | {bias} |")
    return "\n".join(lines)


def _classes(found: Mapping[str, Sequence[Answer]]) -> str:
    """Return which share of the velocities is refused in each class of heart."""
    rings = list(found)
    lines = [
        "| heart | " + " | ".join(f"refused, ring {ring}" for ring in rings) + " |",
        "|---" * (len(rings) + 1) + "|",
    ]
    hearts = sorted({item.heart for answers in found.values() for item in answers})
    for heart in hearts:
        cells = []
        for ring in rings:
            asked = [
                item for item in found[ring]
                if item.heart == heart and _is_velocity(item.name) and item.truth is not None and not item.wraps
            ]  # fmt: skip
            missing = [item for item in asked if item.value is None]
            cells.append(f"{_share(missing, asked)}, n {len(asked)}" if asked else "–")
        lines.append(f"| {heart.replace('_', ' ')} | " + " | ".join(cells) + " |")
    return "\n".join(lines)
