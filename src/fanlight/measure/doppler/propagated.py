"""How far the error of an envelope reaches into what is computed from it: ratios, integrals, mean gradients. Pure.

The velocity that is read is v' = (1 + s + e)·v + d. The scale s and the shift d of the baseline are the same for all
that stands on one side of a strip; how far the edge lies from the blood, e, is the same for all moments of a wave, and
differs between waves of unlike shape. Beside it the edge jumps from column to column. By the law of propagation
u²(y) = Σ (∂y/∂x)² u²(x) over inputs that err independently (JCGM 100:2008, 5.1.2 equation 10).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from fanlight.measure.doppler.envelope import STILL_MS
from fanlight.measure.doppler.wave import Wave

# Time over which the error of the edge is one and the same: ∫ρ dt of noise that weights of a bell with the standard
# deviation σ have stilled is 2·√π·σ (identity).
JITTER_MS = 2 * math.sqrt(math.pi) * STILL_MS
_OF_MEAN_DISTANCE = math.sqrt(math.pi / 2)  # standard deviation over mean distance of a normal distribution (identity)


@dataclass(frozen=True, slots=True, kw_only=True)
class VelocityError:
    """One standard deviation of each way in which the velocities of one side err."""

    scale_share: float
    edge_share: float
    shift_cm_s: float

    def share_at(self, at_cm_s: float) -> float:
        """Return the relative standard deviation of one velocity."""
        return math.sqrt(self.edge_share**2 + self.scale_share**2 + (self.shift_cm_s / max(at_cm_s, 1e-6)) ** 2)


def ratio_share(error: VelocityError, above_cm_s: float, below_cm_s: float) -> float:
    """Return the relative standard deviation of the ratio of two velocities of one side, as E:A.

    The scale cancels. The edge errs for each wave by itself. The shift moves both: it cancels where they are alike, and
    is d·(1/A - 1/E) elsewhere.
    """
    shift = error.shift_cm_s * (1 / max(below_cm_s, 1e-6) - 1 / max(above_cm_s, 1e-6))
    return math.sqrt(2 * error.edge_share**2 + shift**2)


def integral_common_cm(error: VelocityError, wave: Wave) -> float:
    """Return the standard deviation of a velocity-time integral that all beats share, without that of the time scale.

    ∫v dt goes with scale and edge; a shift d adds d over the whole length of the wave.
    """
    share = math.hypot(error.scale_share, error.edge_share)
    return math.hypot(share * wave.integral_cm, error.shift_cm_s * wave.length_ms / 1000.0)


def mean_gradient_common_mmhg(error: VelocityError, wave: Wave, foot_ms: float) -> float:
    """Return the standard deviation of a mean gradient that all beats share.

    G = ∫4·v² dt / T. A share s of the velocity is 2·s of G; a shift d is 8·d·∫v dt / T, more than at the peak, since
    the slow parts weigh more; the scale of time cancels. A foot that lies off by f makes the wave longer and not
    fuller: G changes by (G - 2·v²)·f / T, with v the first velocity that was read beside the foot.
    """
    gradient, length = wave.mean_gradient_mmhg, wave.length_ms
    share = 2 * math.hypot(error.scale_share, error.edge_share) * gradient
    mean_m_s = 10.0 * wave.integral_cm / length
    shift = 8.0 * mean_m_s * error.shift_cm_s / 100.0
    feet = [(gradient - 2.0 * (v / 100.0) ** 2) / length * foot_ms for v in wave.velocity_cm_s[[1, -2]]]
    return math.hypot(share, shift, *feet)


def mean_gradient_jitter_mmhg(wave: Wave) -> float:
    """Return the standard deviation of one beat's mean gradient by the jumps of its edge from column to column.

    u²(G) = (τ/T²)·∫(8·v·σ)² dt, with σ the edge's distance from its own course and τ how long an error lasts.
    """
    sigma_m_s = _OF_MEAN_DISTANCE * wave.ragged_share * wave.peak_cm_s / 100.0
    squares = float(np.trapezoid((8.0 * wave.velocity_cm_s / 100.0) ** 2, wave.times_ms))
    return sigma_m_s * math.sqrt(JITTER_MS * squares) / wave.length_ms
