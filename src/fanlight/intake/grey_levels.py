"""From stored sample values to the 8-bit levels that a screen shows."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from pydicom.dataset import Dataset
from pydicom.pixels.processing import apply_color_lut, apply_voi

from fanlight.intake.dicom_form import PixelForm
from fanlight.intake.dicom_header import items_of, lenient, number_of, text_of, value_of, whole_of

Levels = NDArray[np.uint8]


def stored_values(form: PixelForm) -> NDArray[np.float64]:
    """Return the value that each pattern of the stored bits stands for, shape (2 ** bits_stored,)."""
    values = np.arange(2**form.bits_stored, dtype=np.float64)
    if form.is_signed:  # two's complement, PS3.5 8.1.1
        values[2 ** (form.bits_stored - 1) :] -= 2**form.bits_stored
    return values


def _windowed(values: NDArray[np.float64], centre: float, width: float, function: str) -> NDArray[np.float64]:
    """Return the share of full brightness, 0 to 1; PS3.3 C.11.2.1.2 and C.11.2.1.3."""
    if function == "SIGMOID":
        return 1.0 / (1.0 + np.exp(np.clip(-4.0 * (values - centre) / width, -700, 700)))
    if function == "LINEAR_EXACT":
        return np.clip((values - centre) / width + 0.5, 0.0, 1.0)
    if width <= 1:
        return (values > centre - 0.5).astype(np.float64)
    return np.clip((values - (centre - 0.5)) / (width - 1.0) + 0.5, 0.0, 1.0)


def _is_plain_window(centre: float, width: float) -> bool:
    """A window over the whole 8-bit range, written as 127/254, 127.5/255 or 128/256 by different machines.

    Taking it at its word would move levels by one without showing anything else.
    """
    return abs(centre - 127.5) <= 1.0 and 254.0 <= width <= 256.0


def grey_table(data: Dataset, form: PixelForm) -> Levels | None:
    """Return the level for each stored pattern, shape (2 ** bits_stored,), or None when they are the levels already.

    Modality look-up (PS3.3 C.11.1), then the first VOI window or table (C.11.2). Without a window, more than
    8 bits are scaled from the stated smallest and largest value (0028,0106/0107) or the whole range of the bits.
    """
    values = stored_values(form)
    slope, intercept = number_of(data, "RescaleSlope"), number_of(data, "RescaleIntercept")
    if slope and intercept is not None:
        values = values * slope + intercept
    centre, width = number_of(data, "WindowCenter"), number_of(data, "WindowWidth")
    inverted = form.photometric == "MONOCHROME1"
    plain = form.bits_stored == 8 and not form.is_signed and not (slope and (slope != 1 or intercept))
    if items_of(data, "VOILUTSequence") and (shares := _voi_shares(data, values)) is not None:
        pass
    elif centre is not None and width is not None and width > 0 and not (plain and _is_plain_window(centre, width)):
        shares = _windowed(values, centre, width, text_of(data, "VOILUTFunction") or "LINEAR")
    elif plain:
        shares = values / 255.0
        if not inverted:
            return None
    else:
        low, high = _stated_range(data, form, values)
        shares = np.clip((values - low) / (high - low), 0.0, 1.0)
    if inverted:
        shares = 1.0 - shares
    return np.rint(shares * 255.0).astype(np.uint8)


def _voi_shares(data: Dataset, values: NDArray[np.float64]) -> NDArray[np.float64] | None:
    """Levels by a VOI LUT Sequence, as pydicom applies it; None when the table cannot be used."""
    try:
        with lenient():
            bits = int(items_of(data, "VOILUTSequence")[0].LUTDescriptor[2])
            looked_up = apply_voi(values.astype(np.int32), data)
    except Exception:
        # A broken table counts as absent; pydicom raises many kinds of error on one.
        return None
    return np.clip(np.asarray(looked_up, dtype=np.float64) / (2.0**bits - 1.0), 0.0, 1.0)


def _stated_range(data: Dataset, form: PixelForm, values: NDArray[np.float64]) -> tuple[float, float]:
    low, high = whole_of(data, "SmallestImagePixelValue"), whole_of(data, "LargestImagePixelValue")
    if low is not None and high is not None and low < high:
        bits = 2**form.bits_stored
        ends = values[[low % bits, high % bits]]
        if ends[0] != ends[1]:
            return float(ends.min()), float(ends.max())
    return float(values.min()), float(values.max())


def palette_table(data: Dataset, form: PixelForm) -> Levels | None:
    """Return the colour for each stored pattern, shape (2 ** bits_stored, 3), or None when no usable palette is there.

    PS3.3 C.7.6.3.1.5 and C.7.6.3.1.6. Entries of 16 bits are scaled to 8 by their high byte; some machines write
    8-bit entries and declare 16, which shows when no entry of any colour exceeds 255.
    """
    if value_of(data, "SegmentedRedPaletteColorLookupTableData") is not None:
        return _segmented_palette(data, form)
    channels = []
    for colour in ("Red", "Green", "Blue"):
        descriptor = value_of(data, f"{colour}PaletteColorLookupTableDescriptor")
        entries = value_of(data, f"{colour}PaletteColorLookupTableData")
        try:
            count, first, bits = (int(item) for item in descriptor)
        except (TypeError, ValueError):
            return None
        if not isinstance(entries, bytes) or bits not in (8, 16):
            return None
        count = count % 65536 or 65536  # 0 stands for 65 536
        if len(entries) >= 2 * count:
            order = "<u2" if data.original_encoding[1] is not False else ">u2"
            table = np.frombuffer(entries, dtype=order, count=count)
        elif len(entries) >= count:
            table = np.frombuffer(entries, dtype=np.uint8, count=count)
        else:
            return None
        if form.is_signed and first >= 32768:
            first -= 65536
        index = np.clip(stored_values(form) - first, 0, count - 1).astype(np.intp)  # below the first: its entry
        channels.append(table[index].astype(np.uint16))
    colours = np.stack(channels, axis=1)
    return (colours >> 8 if colours.max() > 255 else colours).astype(np.uint8)


def _segmented_palette(data: Dataset, form: PixelForm) -> Levels | None:
    """A palette written in segments (PS3.3 C.7.9.2), as pydicom expands it."""
    try:
        with lenient():
            colours = apply_color_lut(stored_values(form).astype(np.int32), data)
    except Exception:
        # A broken table counts as absent; pydicom raises many kinds of error on one.
        return None
    return (colours >> 8 if colours.dtype.itemsize == 2 else colours).astype(np.uint8)[:, :3]
