"""Simulated files are valid DICOM, say what is true, and come back through intake as they were written."""

import shutil
import subprocess
from dataclasses import fields, replace
from datetime import date, datetime, timedelta
from itertools import accumulate, product

import numpy as np
import pytest
from pydicom import dcmread

from fanlight.reference.load import load_house
from fanlight.reference.views import match_view_code, match_view_text, read_views
from fanlight.simulate.dicom.dicom_file import ClipFacts, Coding, ImageMode, clip_dataset, view_tags, write_clip
from fanlight.simulate.screen.screen_layouts import LAYOUTS
from fanlight.study import PhysicalUnit, Region, Species, TimeSource
from tests.intake.dicom_files import clip_of, pixels_of
from tests.simulate import screen_stand_ins as stand_in

SMALL = LAYOUTS["right_column"]
LABEL = view_tags(load_house(), "left_apical_four_chamber")


def clip_facts(frames: int = 3, colour: bool = True, m_mode: bool = False, **changed: object) -> ClipFacts:
    rng = np.random.default_rng(2)
    paint = stand_in.m_mode if m_mode else stand_in.two_d
    screen = paint(SMALL, rng, frames, colour=colour)
    values: dict[str, object] = {
        "number": 4,
        "frames": screen.frames,
        "regions": screen.regions,
        "times_ms": stand_in.times_of(frames, 17.25),
        "since_start": timedelta(minutes=3, seconds=5.25),
        "mode": ImageMode.M_MODE if m_mode else ImageMode.TWO_D,
        "heart_rate_bpm": 120.0,
        "r_wave_times_ms": (11.5, 30.25) if frames > 1 else (),
        "focus_depth_mm": 72.0,
        "depth_mm": 120.0,
        "mechanical_index": 0.92,
    }
    return ClipFacts(**(values | changed))  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def verifier():
    """The open checker of DICOM objects; without it nothing here may count as valid."""
    path = shutil.which("dciodvfy")
    assert path, "dciodvfy is missing: install Debian's package dicom3tools (scripts/system-packages.txt)"
    return path


KINDS = list(product((1, 3), (True, False), (False, True)))


@pytest.mark.parametrize("labelled", [False, True], ids=["plain", "labelled"])
@pytest.mark.parametrize("coding", list(Coding), ids=lambda item: item.name)
@pytest.mark.parametrize(
    ("frames", "colour", "m_mode"),
    KINDS,
    ids=[f"{'clip' if n > 1 else 'still'}-{'RGB' if c else 'grey'}-{'M-mode' if m else '2-D'}" for n, c, m in KINDS],
)
def test_every_kind_of_file_is_valid(verifier, tmp_path, frames, colour, m_mode, coding, labelled):
    """dciodvfy (dicom3tools, D. A. Clunie) finds no error against PS3.3; warnings are looked at by hand."""
    clip = clip_facts(frames, colour, m_mode, view=LABEL if labelled else None)
    path = write_clip(tmp_path / "picture.dcm", clip, stand_in.visit(), coding)

    done = subprocess.run([verifier, str(path)], capture_output=True, text=True, check=False)
    said = (done.stdout + done.stderr).splitlines()

    assert ("USMultiFrameImage" if frames > 1 else "USImage") in said  # it was read as what it is
    assert [line for line in said if line.startswith("Error")] == []


def test_the_verifier_finds_a_fault(verifier, tmp_path):
    """The test above can fail: a file without its modality is no valid object."""
    data = clip_dataset(clip_facts(1), stand_in.visit(), Coding.PLAIN)
    del data.Modality
    data.save_as(tmp_path / "fault.dcm", enforce_file_format=True)

    done = subprocess.run([verifier, str(tmp_path / "fault.dcm")], capture_output=True, text=True, check=False)
    said = (done.stdout + done.stderr).splitlines()
    assert [line for line in said if line.startswith("Error") and "<Modality>" in line]


@pytest.mark.parametrize("coding", [Coding.RLE, Coding.PLAIN], ids=lambda item: item.name)
@pytest.mark.parametrize("colour", [True, False], ids=["RGB", "grey"])
def test_pixels_come_back_unchanged(tmp_path, coding, colour):
    """Lossless codings keep every pixel."""
    clip = clip_facts(3, colour)
    path = write_clip(tmp_path / "clip.dcm", clip, stand_in.visit(), coding)

    assert np.array_equal(pixels_of(path), clip.frames)


def test_jpeg_pixels_come_back_nearly(tmp_path):
    """JPEG baseline loses less than two grey levels in the mean on a smooth picture, and says that it is lossy."""
    ramp = np.broadcast_to(np.linspace(0, 255, 160), (2, 120, 160)).astype(np.uint8)
    clip = replace(clip_facts(2), frames=ramp, regions=())
    path = write_clip(tmp_path / "clip.dcm", clip, stand_in.visit(), Coding.JPEG)

    assert np.abs(pixels_of(path).astype(int) - ramp).mean() < 2
    data = dcmread(path)
    assert (data.LossyImageCompression, data.LossyImageCompressionMethod) == ("01", "ISO_10918_1")
    assert float(data.LossyImageCompressionRatio) == pytest.approx(ramp.nbytes / len(data.PixelData), rel=0.1)


def test_stated_ratio_counts_colour_pixels_as_the_stream_holds_them(tmp_path):
    """YBR_FULL_422 holds two bytes a pixel (PS3.3 C.7.6.3.1.2)."""
    clip = clip_facts(2, True)
    data = dcmread(write_clip(tmp_path / "clip.dcm", clip, stand_in.visit(), Coding.JPEG))

    assert data.PhotometricInterpretation == "YBR_FULL_422"
    plain = 2 * 2 * data.Rows * data.Columns
    assert float(data.LossyImageCompressionRatio) == pytest.approx(plain / len(data.PixelData), rel=0.1)


def test_poorer_jpeg_is_smaller(tmp_path):
    """The quality of an export can be set."""
    sizes = []
    for quality in (95, 40):
        path = write_clip(tmp_path / f"{quality}.dcm", clip_facts(2), stand_in.visit(), jpeg_quality=quality)
        sizes.append(path.stat().st_size)
    assert sizes[1] < 0.6 * sizes[0]


@pytest.mark.parametrize("m_mode", [False, True], ids=["2-D", "M-mode"])
def test_regions_come_back_as_they_were_painted(tmp_path, m_mode):
    """Box, units, steps, reference pixel, flags, cursor and frequency survive the file."""
    clip = clip_facts(2, m_mode=m_mode)
    path = write_clip(tmp_path / "clip.dcm", clip, stand_in.visit())

    for read, written in zip(clip_of(path).regions, clip.regions, strict=True):
        for field in fields(Region):
            one, other = getattr(read, field.name), getattr(written, field.name)
            assert one == pytest.approx(other) if isinstance(other, float) else one == other, field.name


def test_even_times_come_back(tmp_path):
    """Even steps are written as Frame Time and doubted by nobody."""
    path = write_clip(tmp_path / "clip.dcm", clip_facts(3), stand_in.visit())

    times = clip_of(path).times
    assert times.source is TimeSource.FRAME_TIME
    assert times.times_ms == pytest.approx((0.0, 17.25, 34.5))
    assert times.doubts == ()


def test_uneven_times_come_back(tmp_path):
    """Uneven steps are written as Frame Time Vector (PS3.3 C.7.6.5.1.2)."""
    times_ms = tuple(accumulate((0.0, 16.0, 19.5)))
    path = write_clip(tmp_path / "clip.dcm", clip_facts(3, times_ms=times_ms), stand_in.visit())

    times = clip_of(path).times
    assert times.source is TimeSource.FRAME_TIME_VECTOR
    assert times.times_ms == pytest.approx(times_ms)


def test_times_that_do_not_rise_are_refused():
    """The message says what is wrong."""
    with pytest.raises(ValueError, match="must rise from the first to the last, got steps of 0"):
        clip_dataset(clip_facts(3, times_ms=(0.0, 17.0, 17.0)), stand_in.visit())
    with pytest.raises(ValueError, match="expected a time for each of 3 frames, got 2"):
        clip_facts(3, times_ms=(0.0, 17.0))


def test_animal_and_visit_come_back(tmp_path):
    """Who it is, how the animal is described and when it was scanned survive the file."""
    path = write_clip(tmp_path / "clip.dcm", clip_facts(2), stand_in.visit())

    clip = clip_of(path)
    patient, identity = clip.patient, clip.identity
    assert (patient.species, patient.breed, patient.sex, patient.neutered) == (Species.DOG, "Whippet", "female", True)
    assert (patient.weight_kg, patient.birth_date, patient.age_years) == (12.4, date(2018, 3, 2), 7.0)
    assert (identity.animal_name, identity.case_number) == ("Tumbleweed", "OT-20417")
    assert identity.owner == "Brindlecombe Wren"
    assert identity.practice == "Otterwhistle Small Animal Practice"
    assert identity.examined_at == datetime(2025, 10, 23, 10, 42, 17)
    assert clip.acquired_at == datetime(2025, 10, 23, 10, 45, 22, 250_000)
    assert clip.burned_in_identity is True


def test_settings_come_back(tmp_path):
    """Focus, depth, heart rate, R waves and output index survive the file."""
    path = write_clip(tmp_path / "clip.dcm", clip_facts(2), stand_in.visit())

    tags = clip_of(path).tags
    assert (tags.focus_depth_mm, tags.depth_of_field_mm) == (72.0, 120.0)
    assert (tags.heart_rate_bpm, tags.r_wave_times_ms) == (120.0, (11.5, 30.25))
    assert (tags.mechanical_index, tags.transducer_type) == (0.92, "SECTOR_PHASED")
    assert tags.transducer_frequency_khz == 5200
    assert tags.image_type == ("ORIGINAL", "PRIMARY", "", "0001")


def test_veterinary_attributes_are_coded():
    """Species and breed by SNOMED CT (PS3.16 CID 7454 and CID 7480), a quadruped, its owner by role."""
    data = clip_dataset(clip_facts(1), stand_in.visit())

    [species], [breed] = data.PatientSpeciesCodeSequence, data.PatientBreedCodeSequence
    assert (species.CodeValue, species.CodingSchemeDesignator) == ("448771007", "SCT")
    assert (breed.CodeValue, breed.CodeMeaning) == ("76351004", "Whippet dog")
    assert (data.AnatomicalOrientationType, data.ResponsiblePersonRole) == ("QUADRUPED", "OWNER")
    assert (data.Manufacturer, data.SoftwareVersions) == ("Fanlight simulation", "Fanlight simulation")


def test_unlabelled_file_says_nothing_of_its_view():
    """No view name, code, stage or series text."""
    data = clip_dataset(clip_facts(1), stand_in.visit())

    silent = ("ViewName", "ViewCodeSequence", "StageName", "SeriesDescription", "ProtocolName", "ImageComments")
    assert [name for name in silent if name in data] == []


def test_labelled_file_names_its_view(tmp_path):
    """Every view of the house is named by its title, and by a code where one names it alone."""
    house = load_house()
    coded = 0
    for key in read_views(house):
        tags = view_tags(house, key)
        assert match_view_text(house, tags.name).view == key
        if tags.code is not None:
            coded += 1
            assert match_view_code(house, tags.code[0]).view == key
    assert coded >= 4
    path = write_clip(tmp_path / "clip.dcm", clip_facts(1, view=LABEL), stand_in.visit())
    read = clip_of(path).tags
    assert (read.series_text, read.view_code) == (LABEL.name, ("399214001", "SCT", "Apical four chamber"))


def test_each_labelled_view_is_a_series_of_its_own():
    """A series text holds for the whole series (PS3.3 C.7.3.1)."""
    house, visit = load_house(), stand_in.visit()
    views = ("left_apical_four_chamber", "left_apical_two_chamber", "left_apical_four_chamber")
    files = [
        clip_dataset(clip_facts(1, number=number, view=view_tags(house, view)), visit, Coding.PLAIN)
        for number, view in enumerate(views, start=1)
    ]

    first, second, third = (item.SeriesInstanceUID for item in files)
    assert first == third != second
    assert len({item.StudyInstanceUID for item in files}) == 1


def test_same_facts_give_the_same_bytes(tmp_path):
    """Identifiers, dates and pixels follow from the facts alone."""
    one = write_clip(tmp_path / "one.dcm", clip_facts(2), stand_in.visit()).read_bytes()
    two = write_clip(tmp_path / "two.dcm", clip_facts(2), stand_in.visit()).read_bytes()

    assert one == two


def test_identifiers_tell_pictures_and_seeds_apart():
    """One study and series, an identifier for each picture; another seed, another study; all of root 2.25."""
    visit = stand_in.visit()
    first, second = (clip_dataset(clip_facts(1, number=number), visit, Coding.PLAIN) for number in (1, 2))
    other = clip_dataset(clip_facts(1, number=1), replace(visit, seed=8), Coding.PLAIN)

    assert first.StudyInstanceUID == second.StudyInstanceUID != other.StudyInstanceUID
    assert len({item.SOPInstanceUID for item in (first, second, other)}) == 3
    for uid in (first.StudyInstanceUID, first.SeriesInstanceUID, first.SOPInstanceUID):
        assert uid.is_valid
        assert uid.startswith("2.25.")
        assert int(uid[5:]) < 2**128  # PS3.5 B.2: a UUID as one number


@pytest.mark.parametrize(
    ("born", "age"), [(date(2025, 10, 3), "020D"), (date(2024, 10, 23), "011M"), (date(2015, 1, 1), "010Y")]
)
def test_age_is_written_in_the_unit_that_fits(born, age):
    """PS3.5 6.2, value representation AS."""
    visit = stand_in.visit()
    data = clip_dataset(clip_facts(1), replace(visit, patient=replace(visit.patient, birth_date=born)))

    assert data.PatientAge == age


def test_animal_from_the_future_is_refused():
    """The message names both days."""
    visit = stand_in.visit()
    unborn = replace(visit, patient=replace(visit.patient, birth_date=date(2026, 1, 1)))
    with pytest.raises(ValueError, match="examined on 2025-10-23 and born on 2026-01-01"):
        clip_dataset(clip_facts(1), unborn)


def test_trace_region_has_seconds_and_no_second_unit(tmp_path):
    """The waveform region is a waveform, of the type ECG."""
    path = write_clip(tmp_path / "clip.dcm", clip_facts(2), stand_in.visit())

    trace = clip_of(path).regions[-1]
    assert (trace.spatial_format, trace.data_type) == (4, 0xA)
    assert (trace.unit_x, trace.unit_y) == (PhysicalUnit.SECONDS, PhysicalUnit.NONE)
