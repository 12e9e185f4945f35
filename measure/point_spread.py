"""Compare the machine's point spread with PyMUST, a general-purpose array simulator; write docs/simulator.md.

PyMUST is not a dependency: run this in an environment that holds it (`pip install pymust`), outside CI. Takes a minute.
A point is put on the axis of a phased array at three depths. PyMUST sends one focused pulse for each line and returns
what each element hears; those signals are delayed and summed here, focused anew at each depth, with the weights of the
simulated machine. The same point is given to the machine's own formula and to the matrices that blur its pictures.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fanlight.simulate.machine.beams import line_geometry
from fanlight.simulate.machine.console import Console
from fanlight.simulate.machine.point_spread import aperture_profile, point_spread, receive_weight
from fanlight.simulate.machine.probe import SPEED_MM_S, ArrayKind, Probe
from scripts.measured import write_table

PAGE = Path(__file__).resolve().parent.parent / "docs" / "simulator.md"
DEPTHS_MM = (35.0, 60.0, 90.0)
FOCUS_MM, APERTURE_MM, FREQUENCY_MHZ = 60.0, 14.0, 5.0
ELEMENTS = 96  # pitch below half a wavelength: no grating lobes
LINE_STEP_DEG = 0.25
AGREES_WITHIN = 0.10  # of the width; the machine's own tests ask the same of wavelength · depth / aperture

Floats = NDArray[np.floating]


def crossing(place: Floats, profile: Floats, level: float) -> float:
    """Return the full width at `level` of the highest value, between the outermost crossings."""
    above = np.nonzero(profile >= level * profile.max())[0]
    first, last = int(above[0]), int(above[-1])

    def between(inside: int, outside: int) -> float:
        share = (profile[inside] - level * profile.max()) / (profile[inside] - profile[outside])
        return float(place[inside] + share * (place[outside] - place[inside]))

    return between(last, last + 1) - between(first, first - 1)


def envelope(signal: Floats) -> Floats:
    """Return the envelope along the first axis."""
    n = len(signal)
    spectrum = np.fft.fft(signal, axis=0)
    keep = np.zeros(n)
    keep[0], keep[1 : n // 2] = 1, 2
    return np.abs(np.fft.ifft(spectrum * keep.reshape(-1, *([1] * (signal.ndim - 1))), axis=0))


def pymust_spread(depth_mm: float) -> tuple[float, float, float]:
    """Return the widths across the lines at -6 and -20 dB and along them at -6 dB, mm, of a point at this depth."""
    import pymust  # type: ignore[import-not-found, import-untyped, unused-ignore]

    param = pymust.utils.Param()
    param.fc = FREQUENCY_MHZ * 1e6
    param.pitch = APERTURE_MM / ELEMENTS / 1000
    param.width = 0.95 * param.pitch
    param.Nelements = ELEMENTS
    param.bandwidth = 70.0
    param.TXnow = 1.5
    param.fs = 8 * param.fc
    param.c = SPEED_MM_S / 1000
    param.radius = np.inf
    element = (np.arange(ELEMENTS) - (ELEMENTS - 1) / 2) * param.pitch * 1000
    weight = receive_weight(element / APERTURE_MM)
    angles = np.radians(np.arange(-6.0, 6.0 + LINE_STEP_DEG / 2, LINE_STEP_DEG))
    radius = np.arange(depth_mm - 2.5, depth_mm + 2.5, 0.01)
    image = np.empty((len(radius), len(angles)))
    for k, angle in enumerate(angles):
        delays = pymust.txdelayFocused(param, FOCUS_MM / 1000 * np.sin(angle), FOCUS_MM / 1000 * np.cos(angle))
        rf = pymust.simus(
            np.asarray([0.0]), np.asarray([depth_mm / 1000]), np.asarray([1.0]), delays, param, pymust.utils.Options()
        )
        rf = np.asarray(rf[0] if isinstance(rf, tuple) else rf)
        # the pulse leaves the middle of the face after the mean delay of its two middle elements
        start = float(np.mean(np.ravel(delays)[ELEMENTS // 2 - 1 : ELEMENTS // 2 + 1]))
        x, z = radius * np.sin(angle), radius * np.cos(angle)
        back = np.hypot(x[:, None] - element[None, :], z[:, None])
        time = (radius[:, None] + back) / SPEED_MM_S + start
        total = np.zeros(len(radius))
        for e in range(ELEMENTS):
            total += weight[e] * np.interp(time[:, e], np.arange(len(rf)) / param.fs, rf[:, e])
        image[:, k] = total
    seen = envelope(image)
    peak = np.unravel_index(np.argmax(seen), seen.shape)
    across = seen.max(axis=0)
    place = depth_mm * np.sin(angles)
    return (
        crossing(place, across, 0.5),
        crossing(place, across, 0.1),
        crossing(radius, seen[:, peak[1]], 0.5),
    )


def machine_spread(depth_mm: float, axial_mm: float) -> tuple[float, float, float]:
    """Return the machine's widths by formula at -6 and -20 dB, and by the matrices of a clip at -6 dB, mm."""
    cycles = 2 * axial_mm * FREQUENCY_MHZ / (SPEED_MM_S / 1e6)
    place = np.linspace(-6.5, 6.5, 2601)
    profile = aperture_profile(
        np.abs(place), depth_mm, aperture_mm=APERTURE_MM, focus_mm=FOCUS_MM, frequency_mhz=FREQUENCY_MHZ, cycles=cycles
    )
    probe = Probe(
        name="compared", kind=ArrayKind.PHASED, aperture_mm=APERTURE_MM, elevation_mm=9.0, elevation_focus_mm=FOCUS_MM,
        low_mhz=2.0, high_mhz=9.0, pulse_cycles=cycles,
    )  # fmt: skip
    console = Console(
        depth_mm=100.0, width_deg=60.0, frequency_mhz=FREQUENCY_MHZ, focus_mm=FOCUS_MM, n_lines=256, n_samples=512
    )
    lines = line_geometry(probe, console)
    spread = point_spread(probe, console, lines)
    sample = int(depth_mm / lines.sample_mm)
    column = spread.lateral[sample // 8][:, 128].astype(float)
    at = depth_mm * np.sin(np.radians(lines.left_deg) + (np.arange(256) + 0.5) * lines.line_rad)
    fine = np.linspace(-6.5, 6.5, 2601)
    kernel = np.interp(fine, at - at[128], column)
    # a scatterer is spread by the field's own smoothing first
    bell = np.exp(-4 * np.log(2) * (np.linspace(-3, 3, 1201) / float(spread.scatter_lateral_mm[sample])) ** 2)
    return (
        crossing(place, profile, 0.5),
        crossing(place, profile, 0.1),
        crossing(fine, np.convolve(kernel, bell, "same"), 0.5),
    )


def main() -> None:
    """Measure and write the table."""
    try:
        import pymust  # noqa: F401
    except ImportError:
        sys.exit(
            "PyMUST is not installed here. Install it into an environment of its own (pip install pymust), run again."
        )
    rows, worst = [], 0.0
    axial_mm = pymust_spread(FOCUS_MM)[2]
    for depth in DEPTHS_MM:
        theirs = pymust_spread(depth)
        ours = machine_spread(depth, axial_mm)
        share = ours[0] / theirs[0] - 1
        worst = max(worst, abs(share))
        rows.append(
            f"| {depth:.0f} | {theirs[0]:.2f} | {ours[0]:.2f} | {100 * share:+.0f} % | {ours[2]:.2f} | "
            f"{theirs[1]:.2f} | {ours[1]:.2f} | {100 * (ours[1] / theirs[1] - 1):+.0f} % | {theirs[2]:.2f} |"
        )
        print(rows[-1])
    table = "\n".join(
        [
            "| depth, mm | across, -6 dB: PyMUST, mm | formula, mm | difference | in pictures, mm | "
            "-20 dB: PyMUST, mm | formula, mm | difference | along, -6 dB: PyMUST, mm |",
            "|---|---|---|---|---|---|---|---|---|",
            *rows,
            "",
            f"Phased array of {APERTURE_MM:.0f} mm, {ELEMENTS} elements, {FREQUENCY_MHZ:.0f} MHz, transmit focus "
            f"{FOCUS_MM:.0f} mm, receive focus everywhere, no attenuation. The formula is given the length of PyMUST's "
            f"own pulse ({axial_mm:.2f} mm). *In pictures*: what the matrices of a clip do to a scatterer, the sinking "
            f"of the spectrum in tissue included. Largest difference at -6 dB: {100 * worst:.0f} %; asked for: "
            f"{100 * AGREES_WITHIN:.0f} %: {'met' if worst <= AGREES_WITHIN else 'missed'}.",
        ]
    )
    write_table(
        PAGE, "point-spread", table, script="measure/point_spread.py",
        describes=["src/fanlight/simulate/machine/point_spread.py", "src/fanlight/simulate/machine/beams.py"],
    )  # fmt: skip


if __name__ == "__main__":
    main()
