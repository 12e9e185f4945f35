"""Stills of spectra are kept apart from what is read of them: a change of the reading needs no drawing again."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest

from fanlight.study import PhysicalUnit, Region, SpatialFormat
from measure._spectral_rungs import answers_of
from measure._spectral_stills import Still, kept_stills
from measure._spectral_truth import STEP_MS, TrueFlow
from measure.spectral_values import DRAWN_BY, KEPT_AS, MADE_BY
from tests.measure.drawn_spectra import Drawing, draw, half_sines

ONSETS_MS, SPAN_MS, PEAK_CM_S = (150.0, 650.0, 1150.0, 1650.0), 2000.0, 120.0


def still() -> Still:
    """Return outflow of half sines as a console would export it."""
    wave = half_sines(-PEAK_CM_S, 180, ONSETS_MS)
    grey, axes = draw(Drawing(waves=[wave], span_ms=SPAN_MS))
    region = Region(
        spatial_format=SpatialFormat.SPECTRAL, data_type=3, box=axes.box, unit_x=PhysicalUnit.SECONDS,
        unit_y=PhysicalUnit.CM_PER_S, delta_x=axes.ms_per_px / 1000, delta_y=-axes.cm_s_per_px,
        reference_row_px=axes.baseline_row_px - axes.box.row0,
    )  # fmt: skip
    times = np.arange(-SPAN_MS, 0.0, STEP_MS) + STEP_MS / 2
    return Still(
        seed=3, heart="normal", species="dog", mode="pulsed_wave", valve="aortic", signal="forward flow", gain_db=0.0,
        wraps=False, jpeg=cv2.imencode(".jpg", grey)[1].tobytes(), regions=(region,),
        flow=TrueFlow(times_ms=times, towards_cm_s=np.zeros_like(times), away_cm_s=-wave(times + SPAN_MS)),
        r_times_ms=tuple(onset - 40 - SPAN_MS for onset in (*ONSETS_MS, 2150.0)),
    )  # fmt: skip


def rows_of(stills: list[Still]) -> list[dict[str, object]]:
    """Return the answers of stills of outflow alone: no ring is asked of, and no relaxation lies on them."""
    return answers_of(stills, lambda _: pytest.fail("no ring lies on it"), lambda _: ())


def test_what_is_kept_is_not_drawn_again(tmp_path: Path) -> None:
    """The second time the stills come from the file, and give the same answers."""
    path = tmp_path / "stills" / "A-3.pickle"
    drawn = kept_stills(path, lambda: [still()])

    kept = kept_stills(path, lambda: pytest.fail("drawn again"))

    assert rows_of(kept) == rows_of(drawn)


def test_a_still_is_read_beside_its_truth() -> None:
    """120 cm/s were drawn (formula): the truth says so, and the reading of what JPEG left comes near."""
    (row,) = (row for row in rows_of([still()]) if row["name"] == "aortic_vmax")

    assert row["truth"] == pytest.approx(PEAK_CM_S / 100, rel=0.001)
    assert row["value"] == pytest.approx(PEAK_CM_S / 100, rel=0.035)


def test_stills_hang_on_what_draws_and_answers_on_all() -> None:
    """A change of the reading leaves the name of the stills' folder as it is; one of the drawing changes both."""
    scripts = tuple(f"measure/_spectral_{name}.py" for name in ("rungs", "expected", "clock", "ring"))
    reads = ("src/fanlight/measure", "src/fanlight/frames", *scripts)

    assert not [name for name in (*DRAWN_BY, *KEPT_AS) if name.startswith(reads)]
    assert set(DRAWN_BY) < set(MADE_BY)
    assert "src/fanlight/simulate/spectral/spectrum.py" in DRAWN_BY
    assert "src/fanlight/measure/doppler/envelope.py" in MADE_BY
