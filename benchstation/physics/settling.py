"""Where a pressure that is still settling will come to rest, and how sure that is.

A fast charge heats the gas; it cools on the tube wall and the reading falls for a minute or so. The
approach is fitted as p(t) = p_inf + a * exp(-(t - t0) / tau): for a given tau the model is linear
in p_inf and a (variable projection, Golub and Pereyra, SIAM J. Numer. Anal. 10 (1973) 413), so tau
is searched on a grid and refined; Gauss-Newton's covariance at the optimum gives the uncertainty.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

MIN_POINTS = 10
"""Fewest readings from which anything is concluded."""
_TAU_STEPS = 24
_ZOOMS = 4


@dataclass(frozen=True, slots=True)
class Settling:
    """What the fit says at the time of the last reading.

    ``certain`` is False when it is too early to tell: too few readings, less than one time constant
    seen, readings that do not follow the curve, or a final value known no better than the fall that
    is still to come. Then ``final_pa`` is
    only a guess (NaN if there is none) and must be shown as "cannot tell yet". ``rate_pa_s`` is the
    slope now; ``remaining_s`` the time until the curve is within the band (infinite when unknown).
    """

    final_pa: float
    u_final_pa: float
    tau_s: float
    rate_pa_s: float
    remaining_s: float
    certain: bool


_UNKNOWN = Settling(math.nan, math.inf, math.nan, math.nan, math.inf, certain=False)


def fit_settling(
    t_s: Array,
    pressure_pa: Array,
    band_pa: float,
    *,
    longest_tau_s: float = 60.0,
    resolution_pa: float = 0.0,
    each: int = 1,
    noise_pa: float | None = None,
    now_s: float | None = None,
) -> Settling:
    """Fit the approach to rest of evenly or unevenly spaced readings, oldest first.

    ``band_pa`` is how near to the final value counts as settled, above zero. Readings that are not
    finite are left out. Noise is taken as independent from reading to reading. A level reading is
    believed only after a tenth of ``longest_tau_s``, and only when the steepest fall that its noise
    and its ``resolution_pa`` (the step of the reading) could hide would stay within the band for
    ``longest_tau_s``.

    Long records come as means of ``each`` readings, with the standard deviation ``noise_pa`` of one
    reading and the time ``now_s`` of the last: the work then no longer grows with the record.
    """
    keep = np.isfinite(t_s) & np.isfinite(pressure_pa)
    t, p = t_s[keep] - t_s[keep][:1], pressure_pa[keep]
    if len(t) < MIN_POINTS or t[-1] <= 0.0:
        return _UNKNOWN
    now = float(t[-1]) if now_s is None else now_s - float(t_s[keep][0])
    one = _noise(p) if noise_pa is None else noise_pa
    span, noise = float(t[-1]), one / math.sqrt(each)
    slope, u_slope = _slope(t, p, noise)
    change = abs(slope) * span
    if change <= max(0.5 * band_pa, 3.0 * u_slope * span) and _is_straight(t, p, noise):
        hidden_slope = abs(slope) + 2.0 * u_slope + resolution_pa / span
        hidden = hidden_slope * longest_tau_s if span >= 0.1 * longest_tau_s else math.inf
        return _at_rest(p, slope, hidden, band_pa)
    tau = _best_tau(t, p, span)
    hidden_pa = one * math.sqrt(1.0 - 1.0 / each)
    return _judge(t, p, tau, band_pa, now, one, hidden_pa)


def _noise(p: Array) -> float:
    """Return the standard deviation from successive differences, without a trend (von Neumann)."""
    return float(np.sqrt(np.mean(np.diff(p) ** 2) / 2.0))


def _slope(t: Array, p: Array, noise: float) -> tuple[float, float]:
    centred = t - t.mean()
    power = float(centred @ centred)
    residual = p - p.mean()
    slope = float(centred @ residual) / power
    scatter = float(np.std(residual - slope * centred, ddof=2))
    return slope, max(noise, scatter) / math.sqrt(power)


def _is_straight(t: Array, p: Array, noise: float) -> bool:
    """Return True when halves of the record agree: a curve that merely ends level does not pass."""
    half = len(p) // 2
    gap = abs(float(p[:half].mean() - p[half:].mean()))
    return gap <= 4.0 * noise * math.sqrt(2.0 / half) or gap == 0.0


def _at_rest(p: Array, slope: float, hidden_pa: float, band_pa: float) -> Settling:
    # The hidden fall is a bound taken as two standard uncertainties.
    u = math.hypot(float(np.std(p, ddof=1)) / math.sqrt(len(p)), 0.5 * hidden_pa)
    certain = hidden_pa <= band_pa
    remaining = 0.0 if certain else math.inf
    return Settling(float(p.mean()), u, math.nan, slope, remaining, certain=certain)


def _columns(t: Array, tau: float) -> Array:
    return np.column_stack((np.ones_like(t), np.exp(-t / tau)))


def _residuals(t: Array, p: Array, taus: Array) -> Array:
    """Sum of squares left by the best curve of each time constant; ``p`` has a mean of zero."""
    shape = np.exp(-t / taus[:, None])
    shape -= shape.mean(axis=1, keepdims=True)
    power = np.maximum(np.einsum("ij,ij->i", shape, shape), 1e-300)
    left: Array = float(p @ p) - (shape @ p) ** 2 / power
    return left


def _best_tau(t: Array, p: Array, span: float) -> float:
    """Search tau from a few sample intervals to ten times the record, zooming in on the best."""
    low, high = max(2.0 * span / len(t), 0.01 * span), 10.0 * span
    shifted = p - p.mean()
    for _ in range(_ZOOMS):
        grid = np.geomspace(low, high, _TAU_STEPS)
        best = int(np.argmin(_residuals(t, shifted, grid)))
        low, high = grid[max(best - 1, 0)], grid[min(best + 1, _TAU_STEPS - 1)]
    return math.sqrt(low * high)


def _judge(
    t: Array, p: Array, tau: float, band_pa: float, now_s: float, noise: float, hidden_pa: float
) -> Settling:
    """Judge the curve at ``now_s``; ``hidden_pa`` is the scatter of readings within their means."""
    basis = _columns(t, tau)
    offset = float(p.mean())
    weights = np.linalg.lstsq(basis, p - offset, rcond=None)[0]
    final, a = float(weights[0]) + offset, float(weights[1])
    residual = p - offset - basis @ weights
    variance = float(residual @ residual) / (len(p) - 3)
    jacobian = np.column_stack((basis, a * t / tau**2 * basis[:, 1]))
    scale = np.linalg.norm(jacobian, axis=0)
    scale[scale == 0.0] = 1.0
    inverse = np.linalg.pinv((jacobian / scale).T @ (jacobian / scale))
    u_final = math.sqrt(max(variance * float(inverse[0, 0]), 0.0)) / float(scale[0])
    now = a * math.exp(-now_s / tau)
    remaining = max(0.0, tau * math.log(abs(now) / band_pa)) if now else 0.0
    seen_enough = float(t[-1]) >= tau
    # A curve that the readings do not follow (the valve was moved slowly, say) tells nothing.
    followed = math.hypot(math.sqrt(variance), hidden_pa) <= 3.0 * noise + 0.1 * band_pa
    certain = seen_enough and followed and u_final <= max(band_pa, 0.25 * abs(now))
    if not certain:
        remaining = math.inf
    return Settling(final, u_final, tau, -now / tau, remaining, certain=certain)
