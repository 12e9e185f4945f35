"""Scale of the colour box at each valve, and how the box is split."""

from __future__ import annotations

from dataclasses import dataclass

from fanlight.reference.formulas.flow import attainable_scale_cm_s
from fanlight.study import Band, Basis, House, Valve


@dataclass(frozen=True, slots=True, kw_only=True)
class ValveRow:
    """What the House says about colour Doppler at one valve."""

    valve: Valve
    title: str
    scale_cm_s: tuple[float, float] | None  # None: no house setting
    border_cm_s: tuple[float, float] | None
    scale_note: str
    receives: str
    basis: Basis


@dataclass(frozen=True, slots=True, kw_only=True)
class BoxSplit:
    """How much of the colour box lies on each side of the valve."""

    upstream_fraction: float
    receiving_fraction: float
    basis: Basis


@dataclass(frozen=True, slots=True, kw_only=True)
class ScaleBand:
    """Band for the colour scale at a valve, in cm/s, limited by what depth and frequency allow."""

    band: Band
    attainable_cm_s: float | None  # None: depth or frequency not known
    limited: bool  # the house band could not be reached
    words: str


def _pair(row: tuple[float, ...]) -> tuple[float, float] | None:
    return (float(row[0]), float(row[1])) if row else None


def read_valves(house: House) -> dict[Valve, ValveRow]:
    """Return the valves; ValueError names the row that is incomplete or whose band does not rise."""
    valves: dict[Valve, ValveRow] = {}
    for key, row in house.table("valves")["valves"].items():
        try:
            read = ValveRow(
                valve=Valve(key),
                title=row["title"],
                scale_cm_s=_pair(row["scale_cm_s"]),
                border_cm_s=_pair(row["border_cm_s"]),
                scale_note=row["scale_note"],
                receives=row["receives"],
                basis=Basis(row["basis"]),
            )
            _band(read)
        except (KeyError, ValueError, IndexError) as error:
            raise ValueError(f"valves.toml, row {key}: {error}") from error
        valves[read.valve] = read
    return valves


def read_box_split(house: House) -> BoxSplit:
    """Return how the colour box is split; ValueError when the two parts do not make the whole."""
    row = house.table("valves")["box"]
    split = BoxSplit(
        upstream_fraction=float(row["upstream_fraction"]),
        receiving_fraction=float(row["receiving_fraction"]),
        basis=Basis(row["basis"]),
    )
    # A thousandth: thirds are written with four decimals.
    if abs(split.upstream_fraction + split.receiving_fraction - 1) > 0.001:
        raise ValueError("valves.toml, row box: the two fractions must add up to 1")
    return split


def _band(row: ValveRow) -> Band | None:
    if row.scale_cm_s is None:
        return None
    border = row.border_cm_s or row.scale_cm_s
    return Band(met_low=row.scale_cm_s[0], met_high=row.scale_cm_s[1], border_low=border[0], border_high=border[1])


def scale_band_at(house: House, valve: Valve, depth_mm: float | None, frequency_mhz: float | None) -> ScaleBand | None:
    """Return the band for the colour scale at a valve, lowered to what physics allows there.

    Parameters
    ----------
    house : House
        Table "valves".
    valve : Valve
        Valve in the box.
    depth_mm : float or None
        Depth of the lower edge of the box, or of the picture.
    frequency_mhz : float or None
        Doppler frequency.

    Returns
    -------
    ScaleBand or None
        None when the House has no setting for the valve. Without depth or frequency the band is not lowered, and the
        words say so.
    """
    row = read_valves(house)[valve]
    band = _band(row)
    if band is None or row.scale_cm_s is None:
        return None
    low, high = row.scale_cm_s
    setting = f"house setting {low:g} to {high:g} cm/s ({row.basis})"
    if depth_mm is None or frequency_mhz is None:
        words = (
            f"{setting}; depth or Doppler frequency is not known, so that what they allow was not taken into account"
        )
        return ScaleBand(band=band, attainable_cm_s=None, limited=False, words=words)
    ceiling = attainable_scale_cm_s(depth_mm, frequency_mhz)
    reach = f"{ceiling:.0f} cm/s is the most that {depth_mm / 10:.1f} cm and {frequency_mhz:g} MHz allow"
    if ceiling >= low:
        return ScaleBand(band=band, attainable_cm_s=ceiling, limited=False, words=f"{setting}; {reach}")
    # A scale at 0.9 of the ceiling counts as met: machines offer steps, not every value (engineering judgement).
    lowered = Band(
        met_low=0.9 * ceiling,
        met_high=band.met_high,
        border_low=min(0.75 * ceiling, band.border_low or ceiling),
        border_high=band.border_high,
    )
    words = f"{setting}, lowered: {reach}, so that a lower scale is physics here and not the hand on the console"
    return ScaleBand(band=lowered, attainable_cm_s=ceiling, limited=True, words=words)
