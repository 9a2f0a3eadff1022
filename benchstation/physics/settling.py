"""Where a pressure that is still settling will come to rest, and how sure that is.

A fast charge heats the gas. It cools on the tube wall within seconds, and more slowly as the wall,
the floating piston and the oil follow: p(t) = p_inf + a exp(-t/tau) + b exp(-t/tau_slow). Short
records show little of the slow part, so p_inf is never taken from one rate alone. Each slow rate up
to ``LONGEST_TAIL_S`` is taken in turn; the fast one that suits it is searched (variable projection,
Golub and Pereyra, SIAM J. Numer. Anal. 10 (1973) 413), and each fit counts by how well the readings
bear it (Bayesian model averaging with Laplace's approximation: Kass and Raftery, J. Am. Stat.
Assoc. 90 (1995) 773). What the readings cannot exclude is then in the uncertainty of p_inf. Whether
one rate or two are shown is decided by the Bayesian information criterion (Schwarz, Ann. Stat. 6
(1978) 461). Neighbouring readings are not independent: the variance of what is fitted is raised by
(1 + r) / (1 - r), r the correlation of neighbouring residuals (Box, Jenkins, Time Series Analysis).
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

MIN_POINTS = 10
"""Fewest readings from which anything is concluded."""
LONGEST_TAIL_S = 600.0
"""The slowest part that is looked for; what is slower is the unit itself, see its temperature."""
_MOST = 256
_TAU_STEPS = 24
_ZOOMS = 4
_SLOW_STEPS, _SLOW_ZOOMS = 14, 5
_APART = 1.5
"""A slow part has a time constant of so many fast ones at least."""
_SLOW_SHARE, _SHARE_S, _LEAST_BANDS = 0.5, 30.0, 2.0
"""How large the slow part is a priori, as one standard deviation: half the fall that was seen, for
slow ones 30 s over the time constant of it, or two bands. What a wall keeps is the gas's heat over
the wall's capacity: some 1.4 J/K of gas to 40 J/K of the tube beside it, 4 % (estimated)."""
_PARAMETERS, _TURNS, _DRIFT_S = 5, 4, 100.0
_LEAK = 0.1
"""How likely a fall without an end is a priori: a leak has no final pressure but that of now."""


@dataclass(frozen=True, slots=True)
class Settling:
    """What the fit says at the time of the last reading.

    ``certain`` is False when it is too early to tell: too few readings, less than one time constant
    seen, readings that do not follow the curve, or a final value known no better than the fall that
    is still to come. Then ``final_pa`` is
    only a guess (NaN if there is none) and must be shown as "cannot tell yet". ``rate_pa_s`` is the
    slope now; ``remaining_s`` the time until the curve is within the band (infinite when unknown).
    ``parts`` are what is still to fall, Pa, with the time constant of each: one, or two where the
    readings show two. ``steady_pa_s`` is a fall that shows no end (a leak), which is no part of
    what is still to come: ``final_pa`` is then what the pressure would be now. ``followed`` is
    False where the readings follow no such curve; ``dof`` are the degrees of freedom of
    ``u_final_pa``.
    """

    final_pa: float
    u_final_pa: float
    tau_s: float
    rate_pa_s: float
    remaining_s: float
    certain: bool
    parts: tuple[tuple[float, float], ...] = ()
    steady_pa_s: float = 0.0
    followed: bool = True
    dof: float = math.inf


_UNKNOWN = Settling(math.nan, math.inf, math.nan, math.nan, math.inf, certain=False)


@dataclass(frozen=True, slots=True)
class _Record:
    """The readings as means of equally many, with what is known of their scatter.

    ``noise`` is that of a mean, ``one`` that of a reading, ``hidden`` what is within the means.
    """

    t: Array
    p: Array
    now: float
    one: float
    noise: float
    hidden: float
    resolution: float
    band: float
    drift: float
    u_drift: float

    @property
    def span(self) -> float:
        return float(self.t[-1])


def fit_settling(
    t_s: Array,
    pressure_pa: Array,
    band_pa: float,
    *,
    longest_tau_s: float = LONGEST_TAIL_S,
    resolution_pa: float = 0.0,
    each: int = 1,
    noise_pa: float | None = None,
    now_s: float | None = None,
    drift_pa_s: float = 0.0,
    u_drift_pa_s: float = 0.0,
) -> Settling:
    """Fit the approach to rest of evenly or unevenly spaced readings, oldest first.

    ``band_pa`` is how near to the final value counts as settled, above zero. Readings that are not
    finite are left out. ``longest_tau_s`` is the slowest part that is not excluded beforehand, and
    ``resolution_pa`` the step of the reading, which may hide a fall.

    Long records come as means of ``each`` readings, with the standard deviation ``noise_pa`` of one
    reading and the time ``now_s`` of the last: the work then no longer grows with the record.

    ``drift_pa_s`` is what the unit's own temperature moves the pressure by, known from elsewhere
    with its standard uncertainty: it is taken out, and what it is off by is fitted beside the rest
    , so that ``final_pa`` is that of the unit as it is now.
    """
    keep = np.isfinite(t_s) & np.isfinite(pressure_pa)
    t, p = t_s[keep] - t_s[keep][:1], pressure_pa[keep]
    if len(t) < MIN_POINTS or t[-1] <= 0.0:
        return _UNKNOWN
    now = float(t[-1]) if now_s is None else now_s - float(t_s[keep][0])
    one = _noise(p) if noise_pa is None else noise_pa
    p = p - drift_pa_s * (t - now)
    joined = -(-len(t) // _MOST)
    if joined > 1:
        t, p = _joined(t, joined), _joined(p, joined)
    each *= joined
    hidden = one * math.sqrt(1.0 - 1.0 / each)
    noise = one / math.sqrt(each)
    record = _Record(
        t, p, now, one, noise, hidden, resolution_pa, band_pa, drift_pa_s, u_drift_pa_s
    )
    return _fit(record, longest_tau_s)


def _joined(values: Array, count: int) -> Array:
    """Return means of ``count`` neighbours; the newest are kept whole, the oldest rest goes."""
    rest = len(values) % count
    means: Array = values[rest:].reshape(-1, count).mean(axis=1)
    return means


def _noise(p: Array) -> float:
    """Return the standard deviation from successive differences, without a trend (von Neumann)."""
    return float(np.sqrt(np.mean(np.diff(p) ** 2) / 2.0))


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


@dataclass(frozen=True, slots=True)
class _Curve:
    """One rate that was fitted: amplitude at the first reading, and what it leaves."""

    a: float
    tau: float
    final: float
    residual: Array


def _one_rate(record: _Record) -> _Curve:
    t, p = record.t, record.p
    tau = _best_tau(t, p, record.span)
    shape = np.exp(-t / tau)
    centred = shape - shape.mean()
    a = float(centred @ (p - p.mean())) / max(float(centred @ centred), 1e-300)
    final = float(p.mean()) - a * float(shape.mean())
    return _Curve(a, tau, final, p - final - a * shape)


@dataclass(frozen=True, slots=True)
class _Profile:
    """The fits of all slow rates: (k,) each; ``theta`` is (p_inf, a, b, d, ln tau), (k, 5).

    The last is that of a steady fall, whose ``slow`` is infinite: its p_inf is the pressure now
    without the fast part, and b what it falls in ``longest`` seconds. ``d`` is what the known drift
    is off by, in ``_DRIFT_S`` seconds.
    """

    slow: Array
    theta: Array
    u: Array
    weight: Array
    residual: Array

    @property
    def best(self) -> int:
        return int(np.argmax(self.weight))


def _fit(record: _Record, longest_tau_s: float) -> Settling:
    one = _one_rate(record)
    variance, dof = _variance(record, one.residual)
    slow = np.geomspace(_lowest(record, longest_tau_s), longest_tau_s, _SLOW_STEPS)
    for _ in range(_SLOW_ZOOMS):
        found, before = _profile(record, slow, longest_tau_s, variance), variance
        # From the nearest fit: a poor one would pass its own misfit off as noise.
        fitted = found.residual[int(np.argmin((found.residual**2).sum(axis=1)))]
        if fitted @ fitted < one.residual @ one.residual:
            variance, dof = _variance(record, fitted)
        borne = np.flatnonzero(found.weight[:-1] >= 1e-3 * found.weight[:-1].max())
        if len(borne) >= _SLOW_STEPS // 2 and abs(variance - before) <= 0.2 * before:
            break
        low, high = max(borne[0] - 1, 0), min(borne[-1] + 1, _SLOW_STEPS - 1)
        slow = np.geomspace(slow[low], slow[high], _SLOW_STEPS)
    final = float(found.weight @ found.theta[:, 0])
    between = found.weight @ (found.theta[:, 0] - final) ** 2
    u = math.sqrt(float(found.weight @ found.u**2 + between))
    return _judged(record, one, found, final, u, variance, dof, longest_tau_s)


def _lowest(record: _Record, longest_s: float) -> float:
    """Return the least time constant that a slow part is looked for at."""
    fastest = max(2.0 * record.span / len(record.t), 0.02 * record.span)
    return min(_APART * fastest, 0.5 * longest_s)


def _variance(record: _Record, residual: Array) -> tuple[float, float]:
    """Return the variance of a mean as a smooth curve meets it, and its degrees of freedom.

    A step of the display that its noise does not move hides a fall: only where the digits changed
    do the readings tell anything.
    """
    m, floor = len(residual), (1e-4 * record.band) ** 2
    plain = float(residual @ residual) / max(m - _PARAMETERS, 1)
    power = float(residual @ residual)
    r = float(residual[1:] @ residual[:-1]) / power if power > 0.0 else 0.0
    # The fit takes out some of the correlation (Kendall's bias); chance shows some where none is.
    r += (1.0 + _PARAMETERS) / m
    r = min(r, 0.9) if power > m * floor and r > 1.5 / math.sqrt(m) else 0.0
    independent = m * (1.0 - r) / (1.0 + r)
    step = record.resolution**2 / 12.0
    if step > 0.0 and record.one < 0.5 * record.resolution:
        changes = np.count_nonzero(np.abs(np.diff(record.p)) > 0.25 * record.resolution)
        independent = min(independent, changes + 2.0)
        plain = max(plain, step)
    return max(plain * m / independent, floor), max(independent - _PARAMETERS, 2.0)


def _profile(record: _Record, rates: Array, longest_s: float, variance: float) -> _Profile:
    """Fit p_inf, a, b and the fast rate for each slow one and a steady fall; weigh the fits."""
    t, p = record.t, record.p
    share = math.log(rates[-1] / rates[0]) / math.log(longest_s / _lowest(record, longest_s))
    prior = np.append(np.full(len(rates), share / len(rates)), _LEAK)
    slow = np.append(rates, math.inf)
    fall = float(np.ptp(p))
    size = np.maximum(
        fall * np.append(np.minimum(_SLOW_SHARE, _SHARE_S / rates), _SLOW_SHARE),
        _LEAST_BANDS * record.band,
    )
    u_drift = max(_DRIFT_S * record.u_drift, 1e-3 * record.band)
    usual = [math.inf, 3.0 * fall + 10.0 * record.band, 1.0, u_drift, 1.5]
    scale = np.tile(usual, (len(slow), 1))
    scale[:, 2] = size
    ridge = variance / scale**2
    tail = np.vstack((np.exp(-t / rates[:, None]), (record.now - t) / longest_s))
    ln_tau = _fast_for_each(t, p - p.mean(), slow, tail, ridge[:, 2], record.span)
    start, offset = ln_tau.copy(), float(p.mean())
    theta = np.zeros((len(slow), 5))
    ceiling = np.log(np.minimum(slow, longest_s) / _APART)
    full = np.ones((len(slow), 5, len(t)))
    full[:, 2], full[:, 3] = tail, (t - record.now) / _DRIFT_S
    for turn in range(_TURNS):
        scaled = t / np.exp(ln_tau)[:, None]
        full[:, 1] = np.exp(-scaled)
        basis = full[:, :4]
        gram = basis @ basis.transpose(0, 2, 1) + np.eye(4) * ridge[:, :4, None]
        theta[:, :4] = np.linalg.solve(gram, (basis @ (p - offset))[..., None])[..., 0]
        residual = p - offset - (theta[:, None, :4] @ basis)[:, 0]
        full[:, 4] = theta[:, 1, None] * scaled * full[:, 1]
        normal = full @ full.transpose(0, 2, 1) + np.eye(5) * ridge[:, :, None]
        if turn == _TURNS - 1:
            break
        pull = (full @ residual[..., None])[..., 0]
        pull -= ridge * np.column_stack((theta[:, :4], ln_tau - start))
        step = np.linalg.solve(normal, pull[..., None])[:, 4, 0]
        ln_tau = np.minimum(ln_tau + np.clip(step, -0.3, 0.3), ceiling)
    theta[:, 4] = ln_tau
    inverse = np.linalg.inv(normal)
    cost = (residual**2).sum(axis=1) + (ridge[:, 1:4] * theta[:, 1:4] ** 2).sum(axis=1)
    ln_det = np.linalg.slogdet(normal)[1] - np.log(ridge[:, 2])
    ln_weight = np.log(prior) - 0.5 * cost / variance - 0.5 * ln_det
    weight = np.exp(ln_weight - ln_weight.max())
    theta[:, 0] += offset
    u = np.sqrt(np.maximum(variance * inverse[:, 0, 0], 0.0))
    return _Profile(slow, theta, u, weight / weight.sum(), residual)


def _fast_for_each(
    t: Array, y: Array, slow: Array, tail: Array, ridge: Array, span: float
) -> Array:
    """Return ln tau of the fast part that suits each slow one best, from a grid."""
    low = max(2.0 * span / len(t), 0.01 * span)
    grid = np.geomspace(low, max(float(slow[-2]) / _APART, 2.0 * low), 2 * _TAU_STEPS)
    fast = np.exp(-t / grid[:, None])
    fast -= fast.mean(axis=1, keepdims=True)
    tail = tail - tail.mean(axis=1, keepdims=True)
    ff = np.einsum("im,im->i", fast, fast)
    ss = np.einsum("km,km->k", tail, tail) + ridge
    fs, fy, sy = tail @ fast.T, fast @ y, tail @ y
    left = ff - fs**2 / ss[:, None]
    gained = (fy - fs * (sy / ss)[:, None]) ** 2 / np.maximum(left, 1e-9 * ff)
    gained[grid > np.maximum(slow / _APART, low)[:, None]] = -1.0
    found: Array = np.log(grid[np.argmax(gained, axis=1)])
    return found


def _judged(
    record: _Record,
    one: _Curve,
    found: _Profile,
    final: float,
    u: float,
    variance: float,
    dof: float,
    longest_s: float,
) -> Settling:
    left = found.residual[found.best]
    gained = float(one.residual @ one.residual - left @ left) / variance
    two = gained > 2.0 * math.log(max(dof + _PARAMETERS, math.e))
    if two:
        parts, leak = _two(found, longest_s)
    else:
        parts, leak = ((one.a, one.tau),), 0.0
    residual = left if two else one.residual
    parts = tuple((a * math.exp(-record.now / tau), tau) for a, tau in parts)
    now = sum(a for a, _ in parts)
    rate = -sum(a / tau for a, tau in parts) - leak
    rate += record.drift + (float(found.theta[found.best, 3]) / _DRIFT_S if two else 0.0)
    scatter = math.sqrt(float(residual @ residual) / max(len(residual) - _PARAMETERS, 1))
    # A curve that the readings do not follow (the valve was moved slowly, say) tells nothing.
    followed = math.hypot(scatter, record.hidden) <= 3.0 * record.one + 0.1 * record.band
    known = max(record.band, 0.5 * record.resolution, 0.25 * abs(now))
    certain = followed and u <= known
    seen = record.span >= min(tau for _, tau in parts) or abs(now) <= record.band
    certain = certain and seen
    remaining = _remaining(parts, record.band) if certain else math.inf
    tau = max(parts, key=lambda part: abs(part[0]))[1]
    return Settling(
        final,
        u,
        tau,
        rate,
        remaining,
        certain,
        parts,
        leak,
        followed=followed,
        dof=dof,
    )


def _two(found: _Profile, longest_s: float) -> tuple[tuple[tuple[float, float], ...], float]:
    """Return amplitudes at the first reading with time constants, and a steady fall in Pa/s."""
    _, a, b, _, ln_tau = (float(x) for x in found.theta[found.best])
    fast, slow = (a, math.exp(ln_tau)), float(found.slow[found.best])
    if math.isinf(slow):
        return (fast,), b / longest_s
    return (fast, (b, slow)), 0.0


def _remaining(parts: tuple[tuple[float, float], ...], band_pa: float) -> float:
    """Return the time until what is still to fall stays within the band."""
    at = 0.0
    for _ in range(60):
        left = [(abs(a) * math.exp(-at / tau), tau) for a, tau in parts]
        over = sum(a for a, _ in left) - band_pa
        if over <= 1e-6 * band_pa:
            break
        # Newton from above the root of a convex fall: never beyond it.
        at += over / sum(a / tau for a, tau in left)
    return at
