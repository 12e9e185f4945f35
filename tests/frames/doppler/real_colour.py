"""The real colour clip that tests of several rooms look at, and what an eye read off it before."""

from __future__ import annotations

import tomllib
from functools import lru_cache
from importlib import resources
from pathlib import Path
from typing import Any

import numpy as np
import pydicom
from numpy.typing import NDArray

from fanlight.study import Sector

EXPECTED: dict[str, Any] = tomllib.loads(Path(__file__).parents[2].joinpath("real", "expected.toml").read_text("utf-8"))
NAME = "ultrasound-multiframe.dcm"
PICTURE = Sector(
    apex_row_px=65, apex_col_px=403, left_deg=-43, right_deg=45, near_px=0, far_px=491, col_stretch=1.0
)  # of the same file


@lru_cache(maxsize=1)
def clip() -> NDArray[np.uint8]:
    row = EXPECTED[NAME]
    return np.asarray(pydicom.dcmread(str(resources.files(row["package"]) / row["path"])).pixel_array, np.uint8)
