"""Percentiles of rows with gaps, against NumPy's own."""

import numpy as np
import pytest

from fanlight.critique.percentiles import row_percentiles


@pytest.mark.parametrize("percent", [0.0, 25.0, 75.0, 80.0, 92.0, 100.0])
@pytest.mark.parametrize("shape", [(256, 16), (128, 170), (40, 1)])
def test_agrees_with_numpy_to_the_last_bits(percent: float, shape: tuple[int, int]) -> None:
    rng = np.random.default_rng(17)
    values = rng.uniform(0, 255, shape).astype(np.float32)
    values[rng.random(shape) < 0.3] = np.nan
    values[:, 0] = 7.0  # NumPy warns of rows without any number
    found = row_percentiles(values, percent)
    assert found.dtype == np.float32
    np.testing.assert_allclose(found, np.nanpercentile(values, percent, axis=1), rtol=1e-6)


def test_a_row_without_numbers_has_none() -> None:
    values = np.array([[np.nan, np.nan], [1.0, np.nan]], np.float32)
    np.testing.assert_array_equal(row_percentiles(values, 50.0), np.array([np.nan, 1.0], np.float32))
    assert np.isnan(row_percentiles(np.empty((3, 0), np.float32), 50.0)).all()
