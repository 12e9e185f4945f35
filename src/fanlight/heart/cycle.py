"""The state of the heart at a moment: how far it has contracted, where its valves are, and how far the breath is."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from fanlight.heart.beat_timing import Filling, Timing, Wave, time_beat
from fanlight.heart.cycle_state import CycleState
from fanlight.heart.rhythm import Beat, Rhythm, breath_at, usual_systole_ms
from fanlight.study import Species

# Engineering judgement, all four: shapes that a textbook's curves show (common practice, no source).
_BASE_EARLY_SHARE = 0.62  # of the base's way back in early filling; less than of the volume: A' is nearly as fast as E'
_ATRIAL_PASSIVE = 0.58  # of the atrium's emptying that early filling does
_HALF_SHUT = 0.40  # opening of the leaflets at rest between E and A
_ATRIAL_OPENING = 0.60  # of the rest of the way, at the peak of A
_ARTERIAL_MOVE_MS = 22.0  # time in which the cusps open, and shut
_LATE_EJECTION = 0.15  # by which the cusps have drifted together before they shut


class Still(StrEnum):
    """Moments of the beat at which the trade measures."""

    END_DIASTOLE = "end-diastole"  # onset of the QRS complex
    MID_EJECTION = "mid-ejection"
    END_SYSTOLE = "end-systole"  # the aortic valve has just shut; the ventricle is smallest
    AFTER_AORTIC_CLOSURE = "first frame after aortic closure"  # where the left atrium is compared with the aorta
    EARLY_FILLING = "early filling (E peak)"
    DIASTASIS = "rest between early filling and atrial contraction"
    ATRIAL_KICK = "atrial contraction (A peak)"


@dataclass(frozen=True, slots=True)
class _Shares:
    """How far ventricles, base and atria have gone; at the onset of QRS 0 after an undisturbed filling."""

    left: float
    right: float
    base: float
    atrium: float


_UNDISTURBED = _Shares(0.0, 0.0, 0.0, 0.0)


def state_at(rhythm: Rhythm, beats: Sequence[Beat], time_ms: float) -> CycleState:
    """Return the state of the heart and the breath at one moment.

    Parameters
    ----------
    rhythm : Rhythm
        As the beats were made with.
    beats : sequence of Beat
        From ``rhythm.beats``, without a gap.
    time_ms : float
        From the start of the recording.

    Returns
    -------
    CycleState
        Every number of it is a continuous function of time with a continuous slope.

    Raises
    ------
    ValueError
        If no beat covers the moment.

    Notes
    -----
    The ventricles change only while blood flows: contraction stands still while all four valves are shut. In systole
    its slope is the flow through the arterial valve, in diastole the flow of the E and A waves.
    """
    index = _index_at(beats, time_ms)
    beat = beats[index]
    t = time_ms - beat.onset_ms
    timing = time_beat(rhythm, beat)
    start = _start(rhythm, beats, index)
    now = _gone(timing, start, beat.strength, t)
    return CycleState(
        time_ms=time_ms,
        beat=index,
        phase=t / beat.rr_ms,
        contraction=now.left,
        right_contraction=now.right,
        base_descent=now.base,
        atrial_filling=now.atrium,
        mitral_opening=_inlet_opening(timing.mitral, t),
        tricuspid_opening=_inlet_opening(timing.tricuspid, t),
        aortic_opening=_outlet_opening(timing.aortic, beat, start.left, t),
        pulmonic_opening=_outlet_opening(timing.pulmonic, beat, start.right, t),
        breath=breath_at(rhythm, time_ms),
    )


def end_diastole(rhythm: Rhythm, beats: Sequence[Beat], beat: int) -> CycleState:
    """Return the state at the onset of QRS of beat number `beat`."""
    return state_at(rhythm, beats, beats[beat].onset_ms)


def end_systole_time_ms(rhythm: Rhythm, beats: Sequence[Beat], beat: int) -> float:
    """Return when the aortic valve of beat number `beat` has shut, ms from the start of the recording."""
    return still_time_ms(rhythm, beats, beat, Still.END_SYSTOLE)


def still_time_ms(rhythm: Rhythm, beats: Sequence[Beat], beat: int, moment: Still) -> float:
    """Return when a named moment of beat number `beat` comes, ms from the start of the recording.

    Raises
    ------
    ValueError
        If the beat has no such moment: no atrial contraction before a premature beat, no rest where E meets A.
    """
    this = beats[beat]
    timing = time_beat(rhythm, this)
    mitral = timing.mitral
    if moment is Still.END_DIASTOLE:
        at = 0.0
    elif moment is Still.MID_EJECTION:
        at = timing.aortic.start_ms + 0.4 * (timing.aortic.end_ms - timing.aortic.start_ms)  # engineering judgement
    elif moment is Still.END_SYSTOLE:
        at = timing.aortic.end_ms
    elif moment is Still.AFTER_AORTIC_CLOSURE:
        # both arterial valves are shut, no inflow yet: all frame rates have a frame about here
        at = 0.5 * (timing.pulmonic.end_ms + timing.tricuspid.early.start_ms)
    elif moment is Still.EARLY_FILLING:
        at = mitral.early.peak_ms
    else:
        if mitral.atrial is None:
            raise ValueError(f"beat {beat} has no {moment}: the next beat comes before its atria contract")
        if moment is Still.ATRIAL_KICK:
            at = mitral.atrial.peak_ms
        else:
            if mitral.atrial.start_ms <= mitral.early.end_ms:
                raise ValueError(f"beat {beat} has no {moment}: at this rate atrial contraction meets early filling")
            at = 0.5 * (mitral.early.end_ms + mitral.atrial.start_ms)
    return this.onset_ms + at


def still(moment: Still, *, breath: float = 0.0) -> CycleState:
    """Return the state at a named moment of an even beat of a dog at 80/min, at a given share of a full breath."""
    rhythm = _EVEN
    time_ms = still_time_ms(rhythm, _EVEN_BEATS, 0, moment)
    state = state_at(rhythm, _EVEN_BEATS, time_ms)
    return CycleState(
        time_ms=time_ms, beat=0, phase=state.phase, contraction=state.contraction,
        right_contraction=state.right_contraction, base_descent=state.base_descent, atrial_filling=state.atrial_filling,
        mitral_opening=state.mitral_opening, tricuspid_opening=state.tricuspid_opening,
        aortic_opening=state.aortic_opening, pulmonic_opening=state.pulmonic_opening, breath=breath,
    )  # fmt: skip


def even_rhythm(*, species: Species = Species.DOG, rate_bpm: float = 80.0) -> Rhythm:
    """Return a rhythm without any variation, with the usual intervals of the species at this rate."""
    pre, ejection, relaxation = usual_systole_ms(species, rate_bpm)
    dog = species is Species.DOG
    rr_ms = 60_000.0 / rate_bpm
    return Rhythm(
        species=species, rate_bpm=rate_bpm, rsa_ratio=1.0, irregularity_fraction=0.0, irregularity=(0.0,),
        first_onset_ms=0.0, ectopic_every=0, ectopic_first=0, coupling_fraction=0.65, potentiation_fraction=0.1,
        pr_ms=95.0 if dog else 70.0, p_ms=36.0 if dog else 32.0, qrs_ms=46.0 if dog else 34.0,
        qt_ms=152.4 + 0.08 * rr_ms if dog else 105.0 + 0.14 * rr_ms,
        ectopic_qrs_ms=90.0 if dog else 70.0, p_mv=0.2 if dog else 0.1, q_mv=-0.15 if dog else -0.05,
        r_mv=1.4 if dog else 0.6, s_mv=-0.2 if dog else -0.08, t_mv=0.22 if dog else 0.1,
        ectopic_mv=1.8 if dog else 0.8, pre_ejection_ms=pre, ejection_ms=ejection, relaxation_ms=relaxation,
        e_a_ratio=1.533 if dog else 1.46, breaths_per_min=20.0 if dog else 36.0, breath_depth_fraction=0.8,
        breath_start_ms=0.0,
    )  # fmt: skip


def _index_at(beats: Sequence[Beat], time_ms: float) -> int:
    index = bisect_right(beats, time_ms, key=lambda beat: beat.onset_ms) - 1
    if index < 0 or time_ms > beats[index].end_ms + 1e-6:
        span = f"{beats[0].onset_ms:.1f} to {beats[-1].end_ms:.1f} ms" if beats else "no time at all"
        raise ValueError(f"no beat covers {time_ms:.1f} ms; the beats cover {span}: ask for a longer duration")
    return index


def _start(rhythm: Rhythm, beats: Sequence[Beat], index: int) -> _Shares:
    """Where a beat begins: at 0, or, for a premature one, where it cut the filling of the beat before short."""
    if index == 0 or not beats[index].early:
        return _UNDISTURBED
    beat = beats[index - 1]
    return _gone(time_beat(rhythm, beat), _start(rhythm, beats, index - 1), beat.strength, beat.rr_ms)


def _gone(timing: Timing, start: _Shares, strength: float, t: float) -> _Shares:
    """How far all has gone at a time of a beat; base and left ventricle go by the same waves."""
    mitral, tricuspid = timing.mitral, timing.tricuspid
    out, filling = timing.aortic.passed(t), mitral.passed(t)
    return _Shares(
        left=_ventricle(start.left, strength, out, mitral.filled(filling)),
        right=_ventricle(start.right, strength, timing.pulmonic.passed(t), tricuspid.filled(tricuspid.passed(t))),
        base=_ventricle(start.base, strength, out, mitral.filled(filling, early_share=_BASE_EARLY_SHARE)),
        atrium=_atrium(timing, start.atrium, filling, t),
    )


def _ventricle(start: float, strength: float, out: float, back: float) -> float:
    """Share of contraction: up with what has left, back with what has come in."""
    peak = start + strength * (1.0 - start)
    return start + (peak - start) * out - peak * back


def _atrium(timing: Timing, start: float, passed: tuple[float, float], t: float) -> float:
    """Filling of the atria: they fill while the ventricles contract, empty in E and in A."""
    end_systole = timing.aortic.end_ms
    if t < end_systole:
        x = t / end_systole
        return start + (1.0 - start) * x * x * (3.0 - 2.0 * x)
    mitral = timing.mitral
    if mitral.atrial is None:
        usual_share = max(mitral.early_share, 1e-9) / 0.75  # 0.75: usual share of E in the whole filling
        return 1.0 - min(usual_share, 1.0) * _ATRIAL_PASSIVE * passed[0]
    return 1.0 - _ATRIAL_PASSIVE * passed[0] - (1.0 - _ATRIAL_PASSIVE) * passed[1]


def _smooth(x: float) -> float:
    x = min(max(x, 0.0), 1.0)
    return x * x * (3.0 - 2.0 * x)


def _inlet_opening(inlet: Filling, t: float) -> float:
    """Opening of mitral or tricuspid leaflets: wide in E, half shut at rest, again in A, shut outside filling."""
    early = inlet.early
    if t <= early.start_ms or t >= inlet.end_ms:
        return 0.0
    if inlet.atrial is None:
        shutting = 0.5 * early.fall_ms
        atrial = 0.0
    else:
        shutting = 0.5 * (inlet.atrial.end_ms - inlet.atrial.start_ms)
        atrial = _ATRIAL_OPENING * inlet.atrial.height(t)
    rest = 1.0 - (1.0 - early.height(t)) * (1.0 - atrial)
    free = _smooth((t - early.start_ms) / (0.8 * early.rise_ms)) * _smooth((inlet.end_ms - t) / shutting)
    return free * (_HALF_SHUT + (1.0 - _HALF_SHUT) * rest)


def _outlet_opening(out: Wave, beat: Beat, start: float, t: float) -> float:
    """Opening of the aortic or pulmonic cusps: they part at once, drift together a little, and shut."""
    length = out.end_ms - out.start_ms
    x = (t - out.start_ms) / length
    if not 0.0 < x < 1.0:
        return 0.0
    move = min(_ARTERIAL_MOVE_MS / length, 0.3)
    stroke = beat.strength * (1.0 - start)
    wide = min(1.0, stroke / 0.6)  # a weak stroke does not push the cusps fully apart (engineering judgement)
    return wide * _smooth(x / move) * _smooth((1.0 - x) / move) * (1.0 - _LATE_EJECTION * _smooth(x))


_EVEN = even_rhythm()
_EVEN_BEATS = (
    Beat(
        onset_ms=0.0, rr_ms=_EVEN.rr_ms, before_ms=_EVEN.rr_ms, early=False, cut_short=False, strength=1.0,
    ),
)  # fmt: skip
RESTING = still(Still.END_DIASTOLE)
"""End-diastole at end-expiration: every share of motion is 0, all four valves are shut."""
