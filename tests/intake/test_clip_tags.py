"""Technical attributes and regions come out as they were written, in our units."""

import pytest
from pydicom import uid
from pydicom.dataset import Dataset

from tests.intake import dicom_files as make


def tags_of(tmp_path, rng, **tags):
    return make.clip_of(make.native(tmp_path / "a.dcm", make.speckle(rng, 1, 16, 24), **tags)).tags


def test_lengths_are_in_mm(tmp_path, rng):
    """Focus Depth is written in cm, Depth of Scan Field in mm; 0 is not stated."""
    tags = tags_of(tmp_path, rng, FocusDepth=[6.5], DepthOfScanField=140)
    unstated = tags_of(tmp_path, rng, FocusDepth=[0.0], DepthOfScanField=0)

    assert (tags.focus_depth_mm, tags.depth_of_field_mm) == (65.0, 140.0)
    assert (unstated.focus_depth_mm, unstated.depth_of_field_mm) == (None, None)


def test_view_code_and_its_modifiers_are_read(tmp_path, rng):
    """The code of CID 12226, the modifier inside its item (PS3.3 C.8.5.6)."""
    modifier = Dataset()
    modifier.CodeValue, modifier.CodingSchemeDesignator, modifier.CodeMeaning = "24028007", "SCT", "Right"
    view = Dataset()
    view.CodeValue, view.CodingSchemeDesignator, view.CodeMeaning = "399139001", "SCT", "Parasternal long axis"
    view.ViewModifierCodeSequence = [modifier]
    tags = tags_of(tmp_path, rng, ViewCodeSequence=[view], ViewName="RPLA", SeriesDescription="heart")

    assert tags.view_code == ("399139001", "SCT", "Parasternal long axis")
    assert tags.view_modifiers == (("24028007", "SCT", "Right"),)
    assert (tags.view_name, tags.series_text) == ("RPLA", "heart")


def test_pixel_aspect_is_height_then_width(tmp_path, rng):
    """PS3.3 C.7.6.3.1.7."""
    assert tags_of(tmp_path, rng, PixelAspectRatio=[3, 4]).pixel_aspect == (3, 4)


@pytest.mark.parametrize(
    ("written", "lossy"),
    [({"LossyImageCompression": "01"}, True), ({"LossyImageCompression": "00"}, False), ({}, None)],
)
def test_lossy_is_as_written(tmp_path, rng, written, lossy):
    """Absent is not the same as no."""
    assert tags_of(tmp_path, rng, **written).lossy is lossy


def test_compression_that_always_loses_outranks_the_tag(tmp_path, rng):
    """JPEG baseline that claims to have lost nothing."""
    path = make.jpeg_baseline(tmp_path / "a.dcm", make.speckle(rng, 1, 32, 40), LossyImageCompression="00")

    assert make.clip_of(path).tags.lossy is True


def test_region_is_read_with_its_last_pixel_inside(tmp_path, rng):
    """MaxX1 and MaxY1 belong to the region (PS3.3 C.8.5.5.1.3): our boxes end one later."""
    item = Dataset()
    item.RegionSpatialFormat, item.RegionDataType, item.RegionFlags = 1, 1, 2
    item.RegionLocationMinX0, item.RegionLocationMinY0 = 2, 3
    item.RegionLocationMaxX1, item.RegionLocationMaxY1 = 20, 12
    item.PhysicalUnitsXDirection = item.PhysicalUnitsYDirection = 3
    item.PhysicalDeltaX = item.PhysicalDeltaY = 0.05
    item.ReferencePixelX0, item.ReferencePixelY0 = 9, 0
    item.TransducerFrequency = 5000
    nowhere = Dataset()
    nowhere.RegionSpatialFormat = 1
    path = make.native(tmp_path / "a.dcm", make.speckle(rng, 1, 16, 24), SequenceOfUltrasoundRegions=[item, nowhere])
    clip = make.clip_of(path)
    (region,) = clip.regions

    assert (region.box.row0, region.box.col0, region.box.row1, region.box.col1) == (3, 2, 13, 21)
    assert (region.delta_x, region.reference_col_px, region.transducer_frequency_khz) == (0.05, 9, 5000)
    assert clip.tags.transducer_frequency_khz == 5000


def test_transfer_syntax_is_the_one_in_the_file(tmp_path, rng):
    """Also where the file was inflated for reading."""
    path = make.deflated(tmp_path / "a.dcm", make.speckle(rng, 1, 16, 24))

    assert make.clip_of(path).tags.transfer_syntax == uid.DeflatedExplicitVRLittleEndian
