"""Ring D: real ultrasound files, against values that were written down before this code (tests/real/expected.toml)."""

import tomllib
from importlib import resources
from pathlib import Path

import pytest
from pydicom.uid import UID

from fanlight.intake import Limits, gather, open_frames, probe_item

EXPECTED = tomllib.loads((Path(__file__).parents[1] / "real" / "expected.toml").read_text("utf-8"))
LIMITS = Limits()


def _probed(entry, scratch):
    path = resources.files(entry["package"]) / entry["path"]
    with resources.as_file(path) as file:
        gathered = gather(file, scratch, LIMITS)
    assert len(gathered.items) == 1
    return gathered.items[0], probe_item(gathered.items[0], LIMITS)


def _names(accepted):
    return [pytest.param(EXPECTED[name], id=name) for name in EXPECTED if EXPECTED[name].get("accepted") is accepted]


@pytest.mark.parametrize("entry", _names(True))
def test_header_is_as_written_down(tmp_path, entry):
    """Size, number of frames, compression, photometric interpretation, frame times, regions."""
    _, probed = _probed(entry, tmp_path)
    assert probed.refused == ()
    clip = probed.clips[0]

    assert (clip.rows, clip.cols, clip.n_frames) == (entry["rows"], entry["cols"], entry["n_frames"])
    assert UID(clip.tags.transfer_syntax).name == entry["transfer_syntax"]
    assert clip.tags.photometric == entry["photometric"]
    if "frame_time_ms" in entry:
        step_ms = (clip.times.times_ms[-1] - clip.times.times_ms[0]) / (clip.n_frames - 1)
        assert step_ms == pytest.approx(entry["frame_time_ms"], abs=0.0005)
        assert clip.times.rate_hz == pytest.approx(entry["frame_rate_fps"], abs=0.05)
        assert clip.times.doubts == ()
    regions = entry.get("regions", [])
    assert len(clip.regions) == len(regions)
    for region, wanted in zip(clip.regions, regions, strict=True):
        x0, y0, x1, y1 = wanted["box_xyxy_tag"]
        assert (region.box.row0, region.box.col0, region.box.row1, region.box.col1) == (y0, x0, y1 + 1, x1 + 1)
        if "delta_cm" in wanted:
            assert [region.delta_x, region.delta_y] == pytest.approx(wanted["delta_cm"], rel=1e-9)


@pytest.mark.parametrize("entry", _names(True))
def test_every_frame_is_decoded(tmp_path, entry):
    """In the stated size and number; frames equal to the one before are as many as were counted."""
    item, probed = _probed(entry, tmp_path)
    count, repeats, last = 0, 0, None
    with open_frames(item, probed.clips[0], LIMITS) as frames:
        for chunk in frames.chunks(8):
            assert chunk.pixels.shape[1:3] == (entry["rows"], entry["cols"])
            for picture in chunk.pixels:
                repeats += last is not None and bool((picture == last).all())
                last = picture.copy()
            count += len(chunk)

    assert count == entry["n_frames"]
    if "identical_to_previous_frame_count" in entry:
        assert repeats == entry["identical_to_previous_frame_count"]


@pytest.mark.parametrize("entry", _names(False))
def test_what_is_no_echo_is_refused(tmp_path, entry):
    """The radiograph of a cat, by the plain word for it."""
    _, probed = _probed(entry, tmp_path)

    assert probed.clips == ()
    assert "a radiograph (DX)" in probed.refused[0].found


def test_weight_of_zero_in_real_files_is_not_stated(tmp_path):
    """ultrasound-multiframe.dcm carries 0.0, as machines do when nobody typed a weight."""
    _, probed = _probed(EXPECTED["ultrasound-multiframe.dcm"], tmp_path)

    assert probed.clips[0].patient.weight_kg is None
    assert probed.clips[0].tags.heart_rate_bpm is None
