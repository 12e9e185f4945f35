"""A teaching copy holds no identity anywhere, keeps what teaching needs, and says what was done."""

import io
import logging
import warnings

import numpy as np
import pytest
from pydicom import dcmread
from pydicom.dataset import Dataset
from pydicom.sr.codedict import codes

from fanlight.intake.deidentify import EmptyClipError, animal_of, deidentify_clip
from fanlight.intake.deidentify_key import DeidentificationKey
from fanlight.intake.deidentify_pixels import PixelPlan, plan_without_reading
from fanlight.intake.deidentify_report import RemovalReport
from fanlight.intake.deidentify_tags import KeepList
from fanlight.intake.dicom_header import lenient
from fanlight.reference.load import load_house
from fanlight.study import Box, ClipTags, FrameTimes, Patient, Species, TimeSource
from tests.intake.deidentify_phantoms import (
    DAY,
    NAME,
    NUMBER,
    OWNER,
    PLANTED,
    ArrayFrames,
    as_file,
    clip_of,
    planted_everywhere,
    with_regions,
)

KEY = DeidentificationKey(b"an invented key for tests only, 1")
KEEP = KeepList.of(load_house())
NUMBERS_THAT_STAY = KEEP.numbers | KEEP.region_numbers
TEXT = Box(row0=2, col0=3, row1=9, col1=40)


@pytest.fixture
def frames():
    """Thirty-seven colour frames of noise, an odd number of pixels each."""
    return ArrayFrames(np.random.default_rng(41).integers(1, 256, (37, 61, 83, 3), dtype=np.uint8))


def spellings(text):
    """The bytes of a text in every coding that a file could hold it in."""
    for form in (text, text.upper(), text.lower(), text[::-1]):
        for coding in ("utf-8", "utf-16-le", "utf-16-be"):
            yield form.encode(coding)


def copy_of(tmp_path, frames, data, plan=None, **more):
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        removal = deidentify_clip(
            more.pop("clip", None) or clip_of(frames),
            data,
            frames,
            plan or PixelPlan((TEXT,)),
            key=more.pop("key", KEY),
            keep=KEEP,
            animal=more.pop("animal", f"{NUMBER} {NAME}"),
            out_dir=tmp_path,
            **more,
        )
    return removal, tmp_path / removal.file


@pytest.mark.parametrize("compress", [True, False])
def test_identity_planted_in_every_attribute_is_in_no_byte(tmp_path, frames, caplog, compress):
    """Names, numbers, dates and identifiers in each attribute of the dictionary leave no trace in the copy."""
    caplog.set_level(logging.DEBUG)
    whole = as_file(with_regions(planted_everywhere(NUMBERS_THAT_STAY)))
    assert all(any(bytes_ in whole for bytes_ in spellings(text)) for text in PLANTED)  # they were there
    with lenient():  # as files are read for a review
        data = dcmread(io.BytesIO(whole), force=True)
    caplog.clear()

    removal, file = copy_of(tmp_path, frames, data, compress=compress)

    written = file.read_bytes()
    report = RemovalReport(code_word=KEY.code_word("x"), clips=(removal,))
    told = repr(report.as_json()) + report.as_text() + caplog.text + str(sorted(tmp_path.rglob("*")))
    for text in PLANTED:
        for bytes_ in spellings(text):
            assert bytes_ not in written
        assert text.casefold() not in told.casefold()
    assert not any(path.suffix == ".part" for path in tmp_path.rglob("*"))
    assert written[:128] == bytes(128)


def test_every_removed_attribute_is_named_without_its_value(tmp_path, frames):
    """The report names what went, in the standard's words, and counts what has no name."""
    removal, _ = copy_of(tmp_path, frames, with_regions(planted_everywhere(NUMBERS_THAT_STAY)))

    removed = dict(removal.removed)
    for name in ("PatientComments (0010,4000)", "OtherPatientIDs (0010,1000)", "InstitutionName (0008,0080)"):
        assert removed[name] >= 1
    assert removed["private attribute"] > 9
    assert {"PatientName", "PatientID", "StudyDate", "StudyInstanceUID"} <= set(removal.changed)


def test_each_attribute_of_the_file_stands_in_one_list(tmp_path, frames):
    """What the copy carries is not called removed, what it lacks is not called changed."""
    data = with_regions(planted_everywhere(NUMBERS_THAT_STAY))
    removal, file = copy_of(tmp_path, frames, data)

    removed = {title.split(" (")[0] for title, _ in removal.removed if not title.endswith(", in a sequence")}
    carried = {element.keyword for element in dcmread(file)}
    assert {"Rows", "Columns", "SOPClassUID", "PhotometricInterpretation", "BitsAllocated"} <= carried
    assert removed & carried == set()
    assert set(removal.changed) <= carried
    assert {"SOPClassUID", "PhotometricInterpretation", "StudyInstanceUID"} <= set(removal.changed)
    gone = {element.keyword for element in data if element.keyword and element.tag.group != 0x7FE0} - carried
    repeated = {"OverlayComments", "OverlayData", "CurveData"}  # group 60xx, 50xx: pydicom gives no keyword
    assert gone <= removed
    assert removed - repeated <= gone | {"private attribute", "attribute that the standard does not know"}


def test_times_that_a_still_does_not_carry_are_removed(tmp_path):
    """FrameTime may stay, but a copy of one frame has none."""
    still = ArrayFrames(np.random.default_rng(42).integers(1, 256, (1, 61, 83), dtype=np.uint8))
    data = Dataset()
    data.FrameTime, data.PatientID = "40", NUMBER
    removal, _ = copy_of(tmp_path, still, data)

    assert dict(removal.removed) == {"FrameTime (0018,1063)": 1}


@pytest.mark.parametrize("compress", [True, False])
@pytest.mark.parametrize("colour", [True, False])
def test_pixels_outside_the_boxes_are_unchanged_bit_for_bit(tmp_path, frames, compress, colour):
    """Read back by pydicom's own decoder, only the blanked box differs from the frames that went in."""
    pixels = frames.pixels if colour else frames.pixels[..., 0]
    source = ArrayFrames(pixels)

    _, file = copy_of(tmp_path, source, Dataset(), compress=compress)

    back = dcmread(file)
    expected = pixels.copy()
    expected[:, TEXT.row0 : TEXT.row1, TEXT.col0 : TEXT.col1] = 0
    assert np.array_equal(back.pixel_array, expected)
    assert back.NumberOfFrames == 37
    assert source.largest_chunk <= 16  # never the whole clip in memory


def test_one_odd_frame_reads_back(tmp_path, frames):
    """A still with an odd number of bytes is padded as the standard wants."""
    still = ArrayFrames(frames.pixels[:1, ..., 0])

    for compress in (True, False):
        _, file = copy_of(tmp_path, still, Dataset(), PixelPlan(()), compress=compress)
        assert np.array_equal(dcmread(file).pixel_array, still.pixels[0])


def test_what_was_done_is_recorded_with_the_standards_codes(tmp_path, frames):
    """Profile and options stand in the tags; codes and meanings equal CID 7050 (PS3.16) in pydicom's dictionary."""
    _, file = copy_of(tmp_path, frames, Dataset())

    data = dcmread(file)
    group = codes.cid7050
    expected = [
        group.BasicApplicationConfidentialityProfile,
        group.CleanPixelDataOption,
        group.RetainLongitudinalTemporalInformationModifiedDatesOption,
        group.RetainPatientCharacteristicsOption,
    ]
    stored = {(i.CodeValue, i.CodingSchemeDesignator, i.CodeMeaning) for i in data.DeidentificationMethodCodeSequence}
    assert stored == {(c.value, c.scheme_designator, c.meaning) for c in expected}
    assert {value for value, _, _ in stored} == {"113100", "113101", "113107", "113108"}
    assert data.PatientIdentityRemoved == "YES"
    assert data.LongitudinalTemporalInformationModified == "MODIFIED"
    assert data.BurnedInAnnotation == "NO"
    assert all(len(words) <= 64 for words in data.DeidentificationMethod)


@pytest.mark.parametrize(
    "plan",
    [
        pytest.param(PixelPlan((TEXT,), (Box(row0=30, col0=5, row1=40, col1=50),)), id="text left on the picture"),
        pytest.param(plan_without_reading(np.ones((61, 83), bool)), id="text was never read"),
    ],
)
def test_clean_pixels_are_not_claimed_where_text_may_be_left(tmp_path, frames, plan):
    """The option code is left out and Burned In Annotation stays YES."""
    removal, file = copy_of(tmp_path, frames, Dataset(), plan)

    data = dcmread(file)
    assert data.BurnedInAnnotation == "YES"
    assert "113101" not in {item.CodeValue for item in data.DeidentificationMethodCodeSequence}
    assert "Clean Pixel Data" not in data.DeidentificationMethod
    assert not removal.pixels_clean
    assert "LOOK AT IT" in RemovalReport(code_word="x", clips=(removal,)).as_text() or removal.whole_outside_blanked


def test_without_reading_everything_outside_the_picture_is_black(tmp_path, frames):
    """Where text cannot be read the mask goes as a whole, in each frame, and nothing else does."""
    outside = np.ones((61, 83), bool)
    outside[20:50, 10:70] = False

    removal, file = copy_of(tmp_path, frames, Dataset(), plan_without_reading(outside))

    back = dcmread(file).pixel_array
    assert not back[:, outside].any()
    assert np.array_equal(back[:, ~outside], frames.pixels[:, ~outside])
    assert any("could not be read" in note for note in removal.notes)


def test_measurement_and_characteristics_stay(tmp_path, frames):
    """Regions, times, depth and what describes the animal can still be read by a reader of DICOM."""
    data = with_regions(Dataset())
    data.PatientName, data.PatientID, data.PatientBirthDate = f"{OWNER}^{NAME}", NUMBER, "20140101"
    data.StudyDate, data.StudyTime = DAY, "101500"
    data.PatientSex, data.PatientSexNeutered, data.PatientWeight = "F", "ALTERED", "4.25"
    data.PatientSpeciesDescription, data.PatientBreedDescription = "Feline", "Maine Coon"
    data.FrameTime, data.HeartRate, data.DepthOfScanField = "33.3", 180, 60
    species = Dataset()
    species.CodeValue, species.CodingSchemeDesignator, species.CodeMeaning = "448169003", "SCT", f"the cat {NAME}"
    data.PatientSpeciesCodeSequence = [species]
    data.ViewName = NAME

    removal, file = copy_of(tmp_path, frames, data)

    kept = dcmread(file)
    assert (kept.PatientSex, kept.PatientSexNeutered, float(kept.PatientWeight)) == ("F", "ALTERED", 4.25)
    assert (kept.PatientSpeciesDescription, kept.PatientBreedDescription) == ("Feline", "Maine Coon")
    assert kept.PatientAge == "007Y"  # born 2014-01-01, examined 2021-03-14
    assert kept.PatientBirthDate == ""
    assert kept.PatientSpeciesCodeSequence[0].CodeMeaning == "Felis catus"  # PS3.16 CID 7454
    assert kept.SequenceOfUltrasoundRegions[0].PhysicalDeltaX == pytest.approx(0.0308)
    assert (float(kept.FrameTime), int(kept.HeartRate), int(kept.DepthOfScanField)) == (33.3, 180, 60)
    assert "ViewName" not in kept
    assert "ViewName (0008,2127)" in dict(removal.removed)


def test_breed_text_that_is_no_breed_goes(tmp_path, frames):
    """A name in the field for the breed does not survive because of its field."""
    data = Dataset()
    data.PatientBreedDescription = f"Maine Coon {NAME}"

    removal, file = copy_of(tmp_path, frames, data)

    assert "PatientBreedDescription" not in dcmread(file)
    assert "PatientBreedDescription (0010,2292)" in dict(removal.removed)


def test_same_key_same_copy_other_key_other_copy(tmp_path, frames):
    """The copy depends on the key and on nothing else that changes from run to run."""
    data = with_regions(Dataset())
    data.PatientID, data.StudyDate, data.SOPInstanceUID = NUMBER, DAY, "1.2.3.4"
    other = DeidentificationKey(b"an invented key for tests only, 2")

    _, one = copy_of(tmp_path / "a", frames, data)
    _, two = copy_of(tmp_path / "b", frames, data)
    _, three = copy_of(tmp_path / "c", frames, data, key=other)

    assert one.read_bytes() == two.read_bytes()
    assert (one.name, one.parent.name) == (two.name, two.parent.name)
    changed = [(dcmread(f).PatientID, dcmread(f).SOPInstanceUID, dcmread(f).StudyDate, f.name) for f in (one, three)]
    assert all(a != b for a, b in zip(*changed, strict=True))


def test_two_files_of_one_study_stay_in_one_study(tmp_path, frames):
    """Study and series identifiers map alike, instances apart."""
    copies = []
    for instance in ("1.2.3.4.1", "1.2.3.4.2"):
        data = Dataset()
        data.StudyInstanceUID, data.SeriesInstanceUID, data.SOPInstanceUID = "1.2.3", "1.2.3.4", instance
        copies.append(dcmread(copy_of(tmp_path, frames, data)[1]))

    assert copies[0].StudyInstanceUID == copies[1].StudyInstanceUID != "1.2.3"
    assert copies[0].SeriesInstanceUID == copies[1].SeriesInstanceUID != "1.2.3.4"
    assert copies[0].SOPInstanceUID != copies[1].SOPInstanceUID
    assert all(copy.StudyInstanceUID.startswith("2.25.") and len(copy.StudyInstanceUID) <= 64 for copy in copies)


@pytest.mark.parametrize("compress", [True, False])
def test_a_clip_that_breaks_off_is_copied_up_to_there(tmp_path, frames, compress):
    """The number of frames in the copy is the number that could be decoded, and the report says so."""
    broken = ArrayFrames(frames.pixels, breaks_at=20)
    data = Dataset()
    data.FrameTimeVector = ["0", *["33.5"] * 36]

    removal, file = copy_of(tmp_path, broken, data, PixelPlan(()), compress=compress)

    back = dcmread(file)
    assert back.NumberOfFrames == 20
    assert len(back.FrameTimeVector) == 20
    assert np.array_equal(back.pixel_array, frames.pixels[:20])
    assert any("breaks off after 20 of 37" in note for note in removal.notes)


def test_a_clip_without_a_frame_is_refused_and_leaves_nothing(tmp_path, frames):
    """Nothing half-written is left behind."""
    with pytest.raises(EmptyClipError, match="expected at least one frame, found invented damage; ask for"):
        copy_of(tmp_path, ArrayFrames(frames.pixels, breaks_at=0), Dataset())

    assert not [path for path in tmp_path.rglob("*") if path.is_file()]


def test_a_video_becomes_secondary_capture_with_its_times(tmp_path, frames):
    """What was no DICOM says so by its class; times of the container and the animal's facts come along."""
    times = FrameTimes(times_ms=tuple(40.0 * i for i in range(37)), source=TimeSource.CONTAINER)
    clip = clip_of(
        frames,
        container="MP4",
        name=f"{NAME}.mp4",
        times=times,
        tags=ClipTags(),
        patient=Patient(species=Species.CAT, sex="female", neutered=True, weight_kg=4.2, age_years=7),
    )

    _, file = copy_of(tmp_path, frames, None, clip=clip)

    data = dcmread(file)
    assert data.SOPClassUID == "1.2.840.10008.5.1.4.1.1.7.4"  # Multi-frame True Color SC, PS3.4 B.5
    assert data.ConversionType == "WSD"
    assert float(data.FrameTime) == 40
    assert data.LossyImageCompression == "01"
    assert (data.PatientSex, data.PatientAge, data.PatientSpeciesDescription) == ("F", "007Y", "cat")
    assert NAME not in file.read_bytes().decode("latin-1")


def test_lossy_originals_stay_marked_lossy(tmp_path, frames):
    """Once lossy, always lossy: PS3.3 C.7.6.1.1.5."""
    data = Dataset()
    data.LossyImageCompression, data.LossyImageCompressionRatio = "01", "12.5"

    kept = dcmread(copy_of(tmp_path, frames, data)[1])

    assert (kept.LossyImageCompression, float(kept.LossyImageCompressionRatio)) == ("01", 12.5)


def test_the_animal_is_told_by_its_case_number_first():
    """All files of an animal give the same code word while the case number is there."""
    data = Dataset()
    data.PatientName, data.PatientID = f"{OWNER}^{NAME}", NUMBER
    assert animal_of(data) == NUMBER
    del data.PatientID
    assert OWNER in animal_of(data)
    assert KEY.code_word("AB  12") == KEY.code_word("ab 12")
