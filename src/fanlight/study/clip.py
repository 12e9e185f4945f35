"""Stills and clips as they came, before anything was read from their pixels."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from enum import IntEnum, StrEnum

from fanlight.study.geometry import Box
from fanlight.study.marks import FileMarks
from fanlight.study.patient import GivenMeasurement, Identity, Patient, Request


class SpatialFormat(IntEnum):
    """Region Spatial Format (0018,6012), PS3.3 C.8.5.5.1.1."""

    NONE = 0
    TWO_D = 1
    M_MODE = 2
    SPECTRAL = 3
    WAVEFORM = 4
    GRAPHICS = 5


class PhysicalUnit(IntEnum):
    """Physical Units X/Y Direction (0018,6024/6026), PS3.3 C.8.5.5.1.15."""

    NONE = 0
    PERCENT = 1
    DB = 2
    CM = 3
    SECONDS = 4
    HZ = 5
    DB_PER_S = 6
    CM_PER_S = 7
    CM2 = 8
    CM2_PER_S = 9
    CM3 = 10
    CM3_PER_S = 11
    DEGREES = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Region:
    """One item of the Sequence of Ultrasound Regions (0018,6011), as written in the file."""

    spatial_format: int  # SpatialFormat, or an unknown number as found
    data_type: int  # Region Data Type (0018,6014)
    box: Box  # MinX0, MinY0, MaxX1, MaxY1; the last pixel is inside in the standard, so +1 here
    unit_x: int
    unit_y: int
    delta_x: float | None  # physical units a pixel
    delta_y: float | None
    reference_col_px: float | None = None  # relative to the region's own corner
    reference_row_px: float | None = None
    reference_value_x: float | None = None
    reference_value_y: float | None = None
    flags: int = 0
    transducer_frequency_khz: float | None = None
    pulse_repetition_hz: float | None = None
    steering_deg: float | None = None
    doppler_angle_deg: float | None = None
    sample_volume_px: tuple[int, int] | None = None  # (row, col)
    m_line_px: tuple[int, int, int, int] | None = None  # row0, col0, row1, col1 of the cursor


class TimeSource(StrEnum):
    """Where the times of the frames come from, most trusted first."""

    FRAME_TIME_VECTOR = "Frame Time Vector (0018,1065)"
    FRAME_TIME = "Frame Time (0018,1063)"
    CINE_RATE = "Cine Rate (0018,0040)"
    RECOMMENDED_RATE = "Recommended Display Frame Rate (0008,2144)"
    CONTAINER = "time stamps of the video file"
    GIF_DELAY = "frame delays of the GIF file"  # whole hundredths of a second, often edited: doubted
    NONE = "not stated"


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameTimes:
    """When each frame was taken, in milliseconds from the first. Empty for stills and when not stated."""

    times_ms: tuple[float, ...] = ()
    source: TimeSource = TimeSource.NONE
    doubts: tuple[str, ...] = ()  # in words; any doubt forbids measuring time without another witness

    @property
    def rate_hz(self) -> float | None:
        """Frames a second over the whole clip, or None."""
        if len(self.times_ms) < 2 or self.times_ms[-1] <= self.times_ms[0]:
            return None
        return 1000.0 * (len(self.times_ms) - 1) / (self.times_ms[-1] - self.times_ms[0])


@dataclass(frozen=True, slots=True, kw_only=True)
class ClipTags:
    """Technical attributes of the file that a stage may weigh. None or "": absent. Holds no identity."""

    image_type: tuple[str, ...] = ()
    series_text: str = ""  # Series Description, Protocol Name; read for view words only
    view_name: str = ""  # (0008,2127)
    view_code: tuple[str, str, str] | None = None  # value, scheme, meaning of (0054,0220)
    view_modifiers: tuple[tuple[str, str, str], ...] = ()  # (0054,0222)
    stage_name: str = ""
    image_comments: str = ""
    heart_rate_bpm: float | None = None
    r_wave_times_ms: tuple[float, ...] = ()
    focus_depth_mm: float | None = None  # (0018,5012), written in cm in the standard
    depth_of_field_mm: float | None = None  # (0018,5050)
    transducer_type: str = ""
    transducer_data: tuple[str, ...] = ()
    transducer_frequency_khz: float | None = None
    mechanical_index: float | None = None
    lossy: bool | None = None
    lossy_ratio: float | None = None
    derivation: str = ""
    colour_present: bool | None = None  # Ultrasound Color Data Present (0028,0014)
    pixel_aspect: tuple[int, int] | None = None
    transfer_syntax: str = ""
    photometric: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Clip:
    """One still or clip of the study. `key` is a hash of the pixel bytes: same pixels, same key."""

    key: str
    number: int  # 1-based place in the study
    name: str  # as the user knows the file: path inside the folder or zip, "/" between parts
    container: str  # "DICOM", "MP4", "PNG" …
    rows: int
    cols: int
    n_frames: int  # as stated or counted; a damaged clip may deliver fewer
    is_colour: bool
    times: FrameTimes = field(default_factory=FrameTimes)
    regions: tuple[Region, ...] = ()
    tags: ClipTags = field(default_factory=ClipTags)
    acquired_at: datetime | None = None
    identity: Identity = field(default_factory=Identity)
    patient: Patient = field(default_factory=Patient)
    burned_in_identity: bool | None = None  # Burned In Annotation (0028,0301)

    @property
    def is_still(self) -> bool:
        """One frame only."""
        return self.n_frames == 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """A file that could not be used: file, what was expected, what was found, what to do."""

    name: str
    expected: str
    found: str
    remedy: str
    place: str = ""  # "frame 12", "header", "item 3 of the zip"; "" = the file as a whole

    def __str__(self) -> str:
        where = f"{self.name}, {self.place}" if self.place else self.name
        return f"{where}: expected {self.expected}; found {self.found}. {self.remedy}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Study:
    """Everything that one examination brought, in the order of acquisition."""

    key: str  # hash over the clips' keys
    source: str  # what the user named: folder, zip or file (its last part only)
    identity: Identity
    patient: Patient
    request: Request
    clips: tuple[Clip, ...]
    refused: tuple[Refusal, ...] = ()
    machine_measurements: tuple[GivenMeasurement, ...] = ()
    mismatches: tuple[str, ...] = ()  # animal, weight, date that differ between files: stops signing
    notes: tuple[str, ...] = ()  # e.g. "2 files held the same pictures; kept once"
    marks: tuple[FileMarks, ...] = ()  # that lay beside the files; what is said on the desk is not among them
