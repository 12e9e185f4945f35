"""What is written comes back the same."""

from __future__ import annotations

import zlib
from datetime import datetime

import pytest

from fanlight.study import (
    Band,
    Box,
    Clip,
    Evidence,
    Finding,
    Identity,
    Layout,
    Mask,
    Polyline,
    Sector,
    Side,
    Strip,
    Verdict,
)
from fanlight.study.codec import from_bytes, to_bytes


def test_findings_come_back_with_every_kind_of_shape() -> None:
    shapes = (
        Box(row0=1, col0=2, row1=3, col1=4),
        Polyline(points=((0.5, 1.0), (2.0, 3.0)), closed=True),
        Mask(runs=((1, 2, 3),)),
    )
    finding = Finding(
        criterion="overall_gain",
        clip="abc",
        value=0.25,
        unit="1",
        band=Band(met_low=0.1, met_high=0.4),
        verdict=Verdict.MISSED,
        side=Side.LOW,
        evidence=tuple(Evidence(shape=shape, label="here", frame=2) for shape in shapes),
    )

    assert from_bytes(to_bytes((finding,), tuple[Finding, ...]), tuple[Finding, ...]) == (finding,)


def test_layouts_come_back_with_either_kind_of_picture() -> None:
    sector = Sector(apex_row_px=1, apex_col_px=2, left_deg=-40, right_deg=40, near_px=0, far_px=300)
    for picture in (sector, Strip(box=Box(row0=0, col0=0, row1=9, col1=9)), None):
        layout = Layout(
            rows=10, cols=10, picture=picture, picture_confidence=1, picture_reason="", scale=None, scale_reason="none"
        )

        assert from_bytes(to_bytes(layout), Layout) == layout


def test_clips_come_back_with_their_times() -> None:
    clip = Clip(
        key="k", number=1, name="a/b", container="DICOM", rows=2, cols=2, n_frames=1, is_colour=False,
        acquired_at=datetime(2026, 1, 2, 3, 4, 5), identity=Identity(animal_name="Juniper"),
    )  # fmt: skip

    assert from_bytes(to_bytes(clip), Clip) == clip


@pytest.mark.parametrize(
    "data", [b"", b"{", b"[]", b"null", b'{"clip": "a"}', b'{"row0": NaN}', b'{"unknown": 1}', zlib.compress(b"{}")]
)
def test_bytes_of_something_else_are_a_value_error(data: bytes) -> None:
    with pytest.raises(ValueError, match="not a Finding of this version"):
        from_bytes(data, Finding)


def test_a_point_with_three_numbers_is_refused() -> None:
    data = to_bytes(Polyline(points=((1.0, 2.0),))).replace(b"[1.0,2.0]", b"[1.0,2.0,3.0]")
    with pytest.raises(ValueError, match="not a Polyline of this version"):
        from_bytes(data, Polyline)
