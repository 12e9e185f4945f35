"""What the last picture of an M-mode or a spectrum measures by itself, or why it measures nothing."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fanlight.frames.doppler.marked_axes import place_spectrum_axes
from fanlight.frames.doppler.strip_beats import strip_r_columns
from fanlight.frames.polar import to_grey
from fanlight.measure.doppler.case import Signal, SpectrumCase
from fanlight.measure.doppler.marked_axes import error_of_marks
from fanlight.measure.doppler.values import measure_spectrum
from fanlight.measure.doppler.wrap import ALIASED
from fanlight.measure.guide_cursor import find_cursor_angle
from fanlight.measure.m_mode import Seen, measure_m_mode
from fanlight.measure.m_mode.on_screen import StripOnScreen, cut_strip, find_strip
from fanlight.measure.m_mode.strip import MModeStrip
from fanlight.measure.ring_strip import measure_ring
from fanlight.measure.root_strip import measure_root
from fanlight.measure.strip_part import StripPart, part_of, parts_in_words
from fanlight.measure.valve_strip import measure_mitral
from fanlight.measure.wall_peaks import measure_wall_peaks
from fanlight.reference.flow_valve import flow_valve
from fanlight.reference.m_mode import read_m_mode_settings
from fanlight.reference.views import read_views
from fanlight.study import (
    ENGINE,
    SPECTRA,
    Box,
    House,
    Layout,
    MarkedAxis,
    MarkedDistance,
    Measurement,
    Mode,
    Valve,
    ViewReading,
)

# Raise it when the same pixels can measure otherwise, here or in what is called: kept results are then made anew.
VERSION = 11
TABLES = ("m_mode", "views")  # of the house, that are read here
_CUT = "the flow runs to the rim of the picture: it is aliased, or the picture was cut off there; send the whole strip"
_OFF_SCREEN = "the strip lies outside the picture"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StripCase:
    """The picture of a strip and what is known of it.

    Attributes
    ----------
    pixels : ndarray of shape (row, col) or (row, col, 3), uint8
        The last frame: it shows the whole strip.
    frame : int
        Its number, counted from 0.
    layout : Layout
        What stands where on the screen.
    mode : Mode
        M-mode or a kind of spectrum.
    view : ViewReading
        View and valve as far as they are known.
    depth : MarkedDistance or None
    marked : tuple of MarkedAxis
        Points that a person marked on the scales of a strip; they count before what the file says.
    """

    pixels: NDArray[np.uint8]
    frame: int
    layout: Layout
    mode: Mode
    view: ViewReading
    depth: MarkedDistance | None = None
    marked: tuple[MarkedAxis, ...] = ()


def is_measured(mode: Mode | None) -> bool:
    """Whether clips of this mode are strips that can be measured here."""
    return mode is Mode.M_MODE or mode in SPECTRA


def measure_strip(case: StripCase, house: House) -> tuple[Measurement, ...]:
    """Return what a strip measures: values with one standard deviation, or one line that says why there is none.

    Raises
    ------
    ValueError
        If the mode has no strip.
    """
    if case.mode is Mode.M_MODE:
        found = _m_mode(case, house)
    elif case.mode in SPECTRA:
        found = _spectrum(case, house)
    else:
        raise ValueError(f"a clip of mode {case.mode} has no strip to measure")
    if isinstance(found, str):
        label = "M-mode" if case.mode is Mode.M_MODE else "Spectrum"
        return (
            Measurement(
                name="", label=label, value=None, unit="", frames=(case.frame,), given_by=ENGINE,
                reason=f"not measured: {found}",
            ),
        )  # fmt: skip
    return found


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlacedStrip:
    """An M-mode cut out of its picture."""

    strip: MModeStrip
    place: StripOnScreen
    part: StripPart


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlacedSpectrum:
    """A spectrum on its picture, with what is known of it."""

    case: SpectrumCase
    note: str  # what was taken for the strip, where no file says it
    is_open: tuple[bool, bool]  # above, below: the rim is not seen, flow may have run on


def place_m_mode(case: StripCase, house: House) -> PlacedStrip | str:
    """Return the M-mode of a picture, cut out and calibrated, or why it is not measured."""
    place = find_strip(case.layout, case.depth, case.marked, case.pixels)
    if isinstance(place, str):
        return place
    box = place.box.clipped_to(*case.pixels.shape[:2])
    if box is None:
        return _OFF_SCREEN
    view = read_views(house).get(case.view.view)
    if view is None:
        return "which part of the heart the strip runs through is not known; name the view"
    part = part_of(view)
    if part is None:
        return f"from the pixels only {parts_in_words()} are measured, not what {view.title} shows"
    place = replace(place, box=box)
    strip = cut_strip(case.pixels, place)
    return strip if isinstance(strip, str) else PlacedStrip(strip=strip, place=place, part=part)


def _m_mode(case: StripCase, house: House) -> tuple[Measurement, ...] | str:
    placed = place_m_mode(case, house)
    if isinstance(placed, str):
        return placed
    found = _of_part(placed.strip, placed.part, house, Seen(frame=case.frame))
    found = tuple(replace(item, reason="; ".join(filter(None, (item.reason, placed.place.note)))) for item in found)
    cursor = find_cursor_angle(case.pixels, case.layout, placed.place.box, case.frame)
    return found if cursor is None else (*found, cursor)


def _of_part(strip: MModeStrip, part: StripPart, house: House, seen: Seen) -> tuple[Measurement, ...]:
    """Return what a strip through a part of the heart measures."""
    if part is StripPart.LEFT_VENTRICLE:
        reading = measure_m_mode(strip, read_m_mode_settings(house), seen)
        if reading.beats is None:
            return reading.measurements
        return (*reading.measurements, measure_wall_peaks(reading, strip, seen))
    if part is StripPart.MITRAL_LEAFLETS:
        return measure_mitral(strip, seen).measurements
    if part is StripPart.TRICUSPID_RING:
        return measure_ring(strip, seen).measurements
    return measure_root(strip, seen).measurements


def _spectrum(case: StripCase, house: House) -> tuple[Measurement, ...] | str:
    placed = place_spectrum(case, house)
    if isinstance(placed, str):
        return placed
    found = measure_spectrum(placed.case)
    return tuple(replace(item, reason=_reason(item.reason, placed)) for item in found)


def _reason(said: str, placed: PlacedSpectrum) -> str:
    """Return why a value is what it is, with what was taken for the strip where no file says it."""
    if said == ALIASED and any(placed.is_open):
        said = _CUT
    return "; ".join(filter(None, (said, placed.note)))


def place_spectrum(case: StripCase, house: House) -> PlacedSpectrum | str:
    """Return the spectrum of a picture with what is known of it, or why it is not measured."""
    place = place_spectrum_axes(case.layout, case.marked, case.pixels)
    if isinstance(place, str):
        return place
    box = place.axes.box.clipped_to(*case.pixels.shape[:2])
    if box is None:
        return _OFF_SCREEN
    axes = replace(place.axes, box=box)
    valve = flow_valve(case.view, case.mode, house)
    if valve is None:
        return "whose flow it is, is not known; name the valve"
    r_columns = strip_r_columns(case.pixels, axes.box)
    spectrum = SpectrumCase(
        grey=_grey(case),
        axes=axes,
        mode=case.mode,
        valve=valve,
        signal=_signal(case.mode, valve),
        r_times_ms=None if isinstance(r_columns, str) else _from_left(r_columns, axes.box, axes.ms_per_px),
        axis_error=error_of_marks(case.marked),
        frame=case.frame,
    )
    return PlacedSpectrum(case=spectrum, note=place.note, is_open=place.is_open)


def _signal(mode: Mode, valve: Valve) -> Signal:
    """Return what a spectrum is taken of.

    Continuous wave at a valve that fills a ventricle is there for its leak, at an outlet for the forward flow (common
    practice, no source).
    """
    if mode is Mode.TISSUE_DOPPLER:
        return Signal.ANNULUS
    is_inlet = valve in (Valve.MITRAL, Valve.TRICUSPID)
    return Signal.LEAK if mode is Mode.CONTINUOUS_WAVE and is_inlet else Signal.FORWARD


def _grey(case: StripCase) -> NDArray[np.uint8]:
    return np.asarray(to_grey(case.pixels[None])[0], np.uint8)


def _from_left(columns: NDArray[np.float64], box: Box, ms_per_px: float) -> tuple[float, ...]:
    """Return times from the middle of the strip's first column, of the columns that lie in it."""
    return tuple(float(at - box.col0) * ms_per_px for at in columns if box.col0 <= at < box.col1)
