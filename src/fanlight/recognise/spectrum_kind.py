"""Which spectrum it is: pulsed wave, continuous wave or tissue Doppler, or that it cannot be told.

Words first, then what the file says, then the marks on the guide, then the scale, then the look of the signal: the
first that speaks decides. Where none does, no kind is named: a filled pulsed spectrum looks like a continuous one.
"""

from __future__ import annotations

from fanlight.recognise.mode_features import ModeFeatures
from fanlight.study import SPECTRA, Mode

# Shares of the three kinds where one was told, where pulsed wave was told but not of what, and where none was.
_TOLD_SHARE = 0.97
_PULSED = {Mode.PULSED_WAVE: 0.57, Mode.CONTINUOUS_WAVE: 0.03, Mode.TISSUE_DOPPLER: 0.40}
_OPEN = {Mode.PULSED_WAVE: 0.45, Mode.CONTINUOUS_WAVE: 0.45, Mode.TISSUE_DOPPLER: 0.10}
# Engineering judgement on simulated spectra of ring A, as all levels here.
_MARK = 0.5  # of a fit that tells bars from a ring
_HOLLOW_LIGHT, _HOLLOW_FILL = 0.30, 0.75  # a laminar stream in a short gate: bright at the edge, dark below it
_TISSUE_BOTH_WAYS, _TISSUE_AT_BASELINE, _TISSUE_SMOOTH = 0.5, 0.45, 0.3
_TISSUE_SURELY_BOTH, _BLOOD_BOTH_WAYS = 0.8, 0.3

_MAY_BE_TISSUE = (Mode.PULSED_WAVE, Mode.TISSUE_DOPPLER)

Told = tuple[tuple[Mode, ...], str]  # the kinds that it may be, and what told them


def tell_kind(f: ModeFeatures, declared: Mode | None) -> Told:
    """Return which spectrum it is and by what; several kinds, and why, where they are not told apart.

    Parameters
    ----------
    f : ModeFeatures
        With the signs of a spectrum.
    declared : Mode or None
        What the believed regions of the file name: pulsed may be blood or tissue, the standard has one code for both.
    """
    named = [mode for mode, says in _words(f).items() if says]
    if Mode.TISSUE_DOPPLER in named:
        return (Mode.TISSUE_DOPPLER,), "a word on the screen names it"  # tissue Doppler is pulsed: both words may stand
    if len(named) == 1:
        return (named[0],), "a word on the screen names it"
    if declared is Mode.CONTINUOUS_WAVE:
        return (declared,), "the regions of the file name it"
    signs = f.signs
    if declared is Mode.PULSED_WAVE:
        return _blood_or_tissue(f, "the regions of the file name pulsed wave")
    if signs.gate_bars > _MARK:
        return _blood_or_tissue(f, "a gate stands on the cursor of the guide")
    if signs.gate_ring > _MARK:
        return (Mode.CONTINUOUS_WAVE,), "a ring and no gate stands on the cursor of the guide"
    if signs.fast_axis:
        return (Mode.CONTINUOUS_WAVE,), "the velocity scale is beyond what a gate can show"
    if _is_slow(f) and _swings(f):
        return (Mode.TISSUE_DOPPLER,), "the velocity scale is that of tissue and the signal swings about its baseline"
    if 0.0 < signs.inner_light < _HOLLOW_LIGHT and signs.filled_inside < _HOLLOW_FILL and not signs.slow_axis:
        return (Mode.PULSED_WAVE,), "bright at its edge and hollow below"
    return SPECTRA, "neither words nor file nor guide nor the look of the signal tell pulsed from continuous wave"


def shares_of(kinds: tuple[Mode, ...]) -> dict[Mode, float]:
    """Return how what speaks for a spectrum is shared out among its kinds."""
    if len(kinds) == 1:
        return {mode: _TOLD_SHARE if mode is kinds[0] else (1 - _TOLD_SHARE) / 2 for mode in SPECTRA}
    return dict(_PULSED if kinds == _MAY_BE_TISSUE else _OPEN)


def _words(f: ModeFeatures) -> dict[Mode, float]:
    return {
        Mode.PULSED_WAVE: f.says_pw,
        Mode.CONTINUOUS_WAVE: f.says_cw,
        Mode.TISSUE_DOPPLER: f.says_tissue,
    }


def _blood_or_tissue(f: ModeFeatures, by: str) -> Told:
    """Tell blood from tissue in a gate: by how fast the signal is, by the scale, and by whether it swings."""
    signs = f.signs
    if signs.slow_signal and signs.both_ways >= _TISSUE_BOTH_WAYS:
        return (Mode.TISSUE_DOPPLER,), f"{by}, and nothing in it moves faster than tissue, to and fro"
    is_slow, swings = _is_slow(f), _swings(f)
    # Tissue on a scale of blood is a thin band about the baseline.
    swings_surely = signs.both_ways >= _TISSUE_SURELY_BOTH and signs.smooth >= _TISSUE_SMOOTH and swings
    if signs.scale_told and not is_slow and not swings_surely:
        return (Mode.PULSED_WAVE,), f"{by}, and the velocity scale is that of blood"
    if is_slow and swings:
        return (
            (Mode.TISSUE_DOPPLER,),
            f"{by}, the velocity scale is that of tissue and the signal swings about its baseline",
        )
    one_sided = signs.covered > 0 and signs.both_ways < _BLOOD_BOTH_WAYS and signs.smooth < _TISSUE_SMOOTH
    if not signs.scale_told and one_sided:
        return (Mode.PULSED_WAVE,), f"{by}, and the signal stands on one side of its baseline"
    return _MAY_BE_TISSUE, f"{by}, but blood and tissue are not told apart"


def _is_slow(f: ModeFeatures) -> bool:
    """Whether the axis is that of tissue; where no axis was read, whether all velocities on the screen are slow."""
    return bool(f.signs.slow_axis or (not f.signs.scale_told and f.slow_scale))


def _swings(f: ModeFeatures) -> bool:
    """Whether one smooth thick band swings about the baseline, as tissue does."""
    signs = f.signs
    return (
        signs.both_ways >= _TISSUE_BOTH_WAYS
        and signs.baseline_lit >= _TISSUE_AT_BASELINE
        and (signs.smooth >= _TISSUE_SMOOTH or signs.both_ways >= _TISSUE_SURELY_BOTH)
    )
