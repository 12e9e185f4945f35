"""Colour and spectra of a study on the disk: the engine reads them back, and the truth says what was set."""

from __future__ import annotations

import json
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from fanlight.critique.doppler.colour_split import share_before
from fanlight.critique.doppler.valve_plane import ValvePlane, valve_plane
from fanlight.frames.doppler.colour_outline import find_outline
from fanlight.frames.layout_of import read_layout
from fanlight.heart.kinds import HeartClass
from fanlight.intake import Limits, assemble, gather, open_frames, probe_item
from fanlight.recognise.mode import read_mode
from fanlight.simulate.screen.screen_colour_regions import COLOUR_FLOW
from fanlight.simulate.visit.examination import Examination
from fanlight.simulate.visit.hand_level import HandLevel
from fanlight.simulate.visit.shoot import Wanted
from fanlight.simulate.visit.shoot_doppler import shoot_doppler
from fanlight.simulate.visit.shot import DopplerShot, Shot
from fanlight.simulate.visit.write_study import make_folders, write_study
from fanlight.study import Box, Clip, DrawnMark, Layout, MarkKind, Mode, ModeReading, Polyline, SpatialFormat, Valve
from tests.simulate.doppler_stand_ins import examination_of
from tests.simulate.small_study import small

FAST_MM_S = 400.0  # a strip of some hundreds of milliseconds


def quick(shot: Shot, *, has_guide: bool = True) -> Shot:
    """Return a rung that takes a second: a strip swept fast."""
    assert shot.doppler is not None
    if not shot.doppler.setting.is_spectral:
        return shot
    setting = replace(
        shot.doppler.setting, has_guide=has_guide, machine=replace(shot.doppler.setting.spectral, sweep_mm_s=FAST_MM_S)
    )
    doppler: DopplerShot = replace(shot.doppler, setting=setting)
    return replace(shot, doppler=doppler)


@pytest.fixture(scope="module")
def tiny() -> Examination:
    """Colour of a few frames, pulsed wave, continuous wave, and pulsed wave without its picture."""
    whole = examination_of(HeartClass.THICK_WALLS, HandLevel.STEADY, "outflow_stenosis")
    at = {shot.mode: shot for shot in whole.shots if shot.doppler and shot.doppler.setting.valve is Valve.AORTIC}
    modes = (Mode.COLOUR, Mode.PULSED_WAVE, Mode.CONTINUOUS_WAVE)
    made = small(whole, [at[mode].number for mode in modes], beats=0.15)
    gated = next(shot for shot in made.shots if shot.mode is Mode.PULSED_WAVE)
    alone = replace(quick(gated, has_guide=False), number=99)
    return replace(made, shots=(*(quick(shot) for shot in made.shots), alone))


@pytest.fixture(scope="module")
def written(tiny: Examination, tmp_path_factory: pytest.TempPathFactory) -> Wanted:
    folder = tmp_path_factory.mktemp("doppler")
    wanted = Wanted(study=folder / "study", truth=folder / "study-truth", label_maps=True)
    make_folders(wanted)
    assert len(list(write_study(tiny, wanted, workers=1))) == 4
    return wanted


@pytest.fixture(scope="module")
def truths(written: Wanted) -> list[dict[str, Any]]:
    return [json.loads(path.read_text()) for path in sorted(written.truth.glob("0*.json"))]


@pytest.fixture(scope="module")
def read(written: Wanted, tmp_path_factory: pytest.TempPathFactory) -> dict[str, tuple[Clip, Layout, ModeReading]]:
    """What the engine makes of the files, by name."""
    limits = Limits()
    gathered = gather(written.study, tmp_path_factory.mktemp("scratch"), limits)
    probed = [probe_item(item, limits) for item in gathered.items]
    study = assemble("study", gathered, probed)
    out = {}
    for clip in study.clips:
        item = next(item for item in gathered.items if item.name.endswith(clip.name))
        with open_frames(item, clip, limits) as frames:
            pixels = next(iter(frames.chunks(size=8))).pixels
        layout = read_layout(clip, pixels)
        out[Path(clip.name).name] = (clip, layout, read_mode(clip, layout, pixels))
    return out


def test_files_are_valid_dicom(written: Wanted) -> None:
    """dciodvfy from Debian's dicom3tools, the open validator, finds no error."""
    checker = shutil.which("dciodvfy")
    assert checker, "dciodvfy is missing; install the packages of scripts/system-packages.txt"
    for file in sorted(written.study.glob("*.dcm")):
        said = subprocess.run([checker, str(file)], capture_output=True, text=True, check=False, timeout=60)
        assert [line for line in said.stderr.splitlines() if line.startswith("Error")] == []


def test_the_engine_reads_the_mode_back(
    truths: list[dict[str, Any]], read: dict[str, tuple[Clip, Layout, ModeReading]]
) -> None:
    for truth in truths:
        _, _, reading = read[truth["file"]]
        assert reading.mode is not None, truth["mode"]
        assert reading.mode.value == truth["mode"]


def test_the_engine_reads_strip_and_scale_back(
    truths: list[dict[str, Any]], read: dict[str, tuple[Clip, Layout, ModeReading]]
) -> None:
    """Region of the spectrum: its box, the baseline, and a scale that spans what was set, trusted by the pixels."""
    spectra = [truth for truth in truths if truth["mode"] != "colour"]

    assert len(spectra) == 3
    for truth in spectra:
        _, layout, _ = read[truth["file"]]
        (found,) = [r for r in layout.regions if r.region.spatial_format == SpatialFormat.SPECTRAL]
        told, strip = truth["doppler"], truth["doppler"]["strip"]
        box, region = found.region.box, found.region
        assert found.trusted, found.reason
        assert (box.row0, box.row1, box.col0, box.col1) == (strip["row0"], strip["row1"], strip["col0"], strip["col1"])
        assert region.reference_row_px is not None
        assert box.row0 + region.reference_row_px == pytest.approx(told["baseline_row_px"], abs=1)
        assert region.delta_y is not None
        span = abs(region.delta_y) * (box.row1 - box.row0)
        assert span == pytest.approx(2 * told["setting"]["scale_cm_s"], rel=0.01)


def test_the_engine_finds_the_colour_box_where_the_truth_says(
    truths: list[dict[str, Any]], read: dict[str, tuple[Clip, Layout, ModeReading]]
) -> None:
    """The region of the file is the box to the pixel; what the pixels alone tell lies in it and covers most of it."""
    (truth,) = [truth for truth in truths if truth["mode"] == "colour"]
    _, layout, _ = read[truth["file"]]
    told = Box(**truth["doppler"]["box"])
    regions = [r for r in layout.regions if r.region.data_type == COLOUR_FLOW]

    assert [r.region.box for r in regions] == [told]
    assert layout.colour_box is not None
    found = layout.colour_box
    assert found.row0 >= told.row0 - 3
    assert found.row1 <= told.row1 + 3
    assert found.col0 >= told.col0 - 3
    assert found.col1 <= told.col1 + 3
    assert found.height_px * found.width_px > 0.6 * told.height_px * told.width_px
    low, high = truth["doppler"]["range_m_s"]
    assert high - low == pytest.approx(2 * truth["doppler"]["setting"]["scale_m_s"])
    assert 0.0 <= truth["doppler"]["shown_fraction"] <= 1.0


def test_the_engine_finds_the_drawn_box_and_a_marked_valve_parts_it_as_it_was_laid(
    written: Wanted,
    truths: list[dict[str, Any]],
    read: dict[str, tuple[Clip, Layout, ModeReading]],
    tmp_path: Path,
) -> None:
    """A steady hand lays a third of the box before the valve; the valve moves by some millimetres in a beat."""
    (truth,) = [truth for truth in truths if truth["mode"] == "colour"]
    clip, layout, _ = read[truth["file"]]
    limits, told = Limits(), truth["doppler"]
    item = next(item for item in gather(written.study, tmp_path, limits).items if item.name.endswith(clip.name))
    with open_frames(item, clip, limits) as frames:
        pixels = np.concatenate([np.array(chunk.pixels) for chunk in frames.chunks(size=8)])
    assert layout.picture is not None
    found = find_outline(np.asarray(pixels.min(axis=0), np.uint8), layout.picture)

    assert found is not None
    corners = [
        layout.picture.point(*place)
        for place in ((found.near, found.left), (found.near, found.right), (found.far, found.right))
    ]
    for seen, true in zip(corners, told["box_corners_px"], strict=False):
        assert np.hypot(seen[0] - true[0], seen[1] - true[1]) <= 4.0
    box = Polyline(points=tuple((row, col) for row, col in told["box_outline_px"]), closed=True)
    for moment in truth["moments"]:
        marks = [
            DrawnMark(kind=MarkKind.POINT, frame=0, points=((m["row_px"], m["col_px"]),), landmark=m["landmark"])
            for m in moment["landmarks"]
        ]
        plane = valve_plane(marks, Valve(told["valve"]))
        assert isinstance(plane, ValvePlane), plane
        share = share_before(box, plane)
        assert share is not None
        assert 1 / 3 - 0.2 < min(share, 1 - share) <= 0.5


def test_the_truth_says_what_was_set(tiny: Examination, truths: list[dict[str, Any]]) -> None:
    for truth, shot in zip(truths, tiny.shots, strict=True):
        told = truth["doppler"]
        assert shot.doppler is not None
        assert truth["mode"] == shot.mode.value
        assert (told["valve"], told["signal_valve"]) == ("aortic", "aortic")
        assert told["sought"] == "forward flow"
        machine = shot.doppler.setting.machine
        for name in ("frequency_mhz", "gain_db"):
            assert told["setting"][name] == getattr(machine, name)
        if shot.doppler.setting.is_spectral:
            assert told["has_guide"] == shot.doppler.setting.has_guide == (told["cursor_px"] is not None)
            assert (told["gate_px"] is None) == (truth["mode"] == "continuous_wave" or not told["has_guide"])
            assert shot.doppler.peak is not None
            assert told["peak"]["along_cm_s"] == shot.doppler.peak.along_cm_s


def test_a_subaortic_jet_wraps_in_the_gate_and_fits_the_line(truths: list[dict[str, Any]]) -> None:
    """The reason for continuous wave: what the depth of the gate allows is too little for some metres a second."""
    by_mode = {truth["mode"]: truth["doppler"] for truth in truths if truth["doppler"]["has_guide"] is not False}

    assert by_mode["pulsed_wave"]["steady_wraps"] is True
    assert by_mode["pulsed_wave"]["wraps"] is True
    assert by_mode["continuous_wave"]["steady_wraps"] is False
    assert by_mode["continuous_wave"]["why"] in ("colour shows a jet", "the plan asks for it")
    assert by_mode["continuous_wave"]["peak"]["along_cm_s"] < -200


def test_a_strip_alone_has_no_landmarks_and_a_guide_has(truths: list[dict[str, Any]]) -> None:
    for truth in truths:
        if truth["mode"] == "colour":
            continue  # a few frames: no named moment need lie in them
        has_picture = truth["doppler"]["has_guide"]
        assert bool(truth["moments"]) == has_picture
        assert (truth["picture"] is not None) == has_picture


def test_the_study_s_truth_has_its_circulation(tiny: Examination, written: Wanted) -> None:
    study = json.loads((written.truth / "study.json").read_text())

    assert tiny.circulation is not None
    assert tiny.circulation.subaortic is not None
    assert study["circulation"]["subaortic"]["gradient_mmhg"] == tiny.circulation.subaortic.gradient_mmhg
    assert study["missing_rungs"] == []
    assert study["doppler_hand"]["habits"] == []


def test_a_shot_without_doppler_is_refused(tiny: Examination, tmp_path: Path) -> None:
    shot = replace(tiny.shots[0], doppler=None)
    with pytest.raises(ValueError, match="has no Doppler; draw the examination with doppler=True"):
        shoot_doppler(tiny, shot, tmp_path, np.random.default_rng(0), labelled=False, label_maps=False)
