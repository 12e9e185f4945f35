"""How long the picture stage takes in whole files, beside onnxruntime alone, with and without the calipers it lays."""

from __future__ import annotations

import numpy as np

from measure._recognition_file_figures import Rings, head, row


def time_table(rings: Rings) -> str:
    """Return the time of the stage beside bare onnxruntime on the same squares, with and without its calipers.

    A photograph carries the times of the clip that it was taken of, and is left out.
    """
    every = [
        r for records in rings.values() for r in records if r["bare_s"] and "lines_s" in r and r["kind"] != "photo"
    ]
    heads = ["clips", "stage, median ms", "of it calipers on the masks", "bare onnxruntime, median ms"]
    lines = head([*heads, "ratio without calipers, median (90th percentile)", "ratio, median (90th percentile)", "n"])
    for words, is_long in (("as drawn", False), ("three beats as stored", True)):
        rows = [r for r in every if (r["kind"] == "long") is is_long]
        if rows:
            frames = int(np.median([r["n_frames"] for r in rows]))
            lines.append(
                row([
                    f"{words}, {frames} frames (median)",
                    *(f"{1000 * np.median([r[key] for r in rows]):.0f}" for key in ("picture_s", "lines_s", "bare_s")),
                    _ratio([(r["picture_s"] - r["lines_s"]) / r["bare_s"] for r in rows]),
                    _ratio([r["picture_s"] / r["bare_s"] for r in rows]), str(len(rows)),
                ])
            )  # fmt: skip
    return "\n".join(lines)


def _ratio(found: list[float]) -> str:
    return f"{np.median(found):.2f} ({np.quantile(found, 0.9):.2f})"
