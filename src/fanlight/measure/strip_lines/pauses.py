"""Where each isovolumic relaxation lies on a strip: by the rule that measures it, beat by beat."""

from __future__ import annotations

from fanlight.measure.doppler import relaxation
from fanlight.measure.doppler.filling import fillings
from fanlight.measure.doppler.read import ReadSpectrum
from fanlight.measure.doppler.systole import systolic_waves


def relaxations(read: ReadSpectrum) -> tuple[tuple[float, float], ...]:
    """Return end of outflow and onset of inflow of each beat that counts, milliseconds from the strip's left edge.

    Notes
    -----
    `doppler.relaxation` keeps the mean alone; a test holds the two together.
    """
    least, least_out = relaxation._LEAST_CM_S, relaxation._LEAST_OUT_CM_S
    outflows = [wave for wave in systolic_waves(read.away, read.beats).waves if wave.peak_cm_s >= least_out]
    found = fillings(read.towards, read.beats)
    early = [] if isinstance(found, str) else [item.early for item in found if item.early is not None]
    onsets = sorted(wave.onset_ms for wave in early if wave.peak_cm_s >= least)
    pairs = []
    for wave in outflows:
        onset = next((at for at in onsets if at > wave.peak_ms), None)
        if onset is not None and relaxation._SHORTEST_MS <= onset - wave.end_ms <= relaxation._LONGEST_MS:
            pairs.append((wave.end_ms, onset))
    return tuple(pairs)
