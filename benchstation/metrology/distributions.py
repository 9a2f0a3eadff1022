"""Normal, Student-t and chi-squared probabilities, without a statistics library at run time.

Published sources: NIST Digital Library of Mathematical Functions 8.17 (incomplete beta function and
its continued fraction 8.17.22), 8.7.1 and 8.9.2 (incomplete gamma functions); Abramowitz and Stegun
26.7.5 and 26.4.17 (start values for Student's t and chi-squared).
"""

import math
from functools import lru_cache
from statistics import NormalDist

_NORMAL = NormalDist()


def normal_cdf(x: float) -> float:
    """Return the standard normal distribution function; accurate in both tails."""
    return 0.5 * math.erfc(-x / math.sqrt(2.0))


def normal_quantile(p: float) -> float:
    """Return x with normal_cdf(x) = p, 0 < p < 1."""
    return _NORMAL.inv_cdf(p)


def incomplete_beta(a: float, b: float, x: float) -> float:
    """Return the regularised incomplete beta function I_x(a, b), a and b above 0, 0 <= x <= 1."""
    if x <= 0.0 or x >= 1.0:
        return 0.0 if x <= 0.0 else 1.0
    if x > (a + 1.0) / (a + b + 2.0):
        return 1.0 - incomplete_beta(b, a, 1.0 - x)
    log_front = a * math.log(x) + b * math.log1p(-x)
    log_front += math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b)
    return math.exp(log_front) / (a * _beta_fraction(a, b, x))


def _beta_fraction(a: float, b: float, x: float) -> float:
    """Evaluate DLMF 8.17.22 by the modified Lentz method."""
    tiny = 1e-300
    value, c, d = 1.0, 1.0, 0.0
    for m in range(500):
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        even = (m + 1) * (b - m - 1) * x / ((a + 2 * m + 1) * (a + 2 * m + 2))
        for term in (odd, even):
            d = 1.0 / (1.0 + term * d or tiny)
            c = 1.0 + term / c or tiny
            value *= c * d
        if abs(c * d - 1.0) < 1e-15:
            break
    return value


def student_cdf(t: float, dof: float) -> float:
    """Return the distribution function of Student's t; ``dof`` above 0, not only whole, or inf."""
    if dof > 1e8:
        return normal_cdf(t)
    if t * t < 1.0:
        # From the middle, where dof/(dof + t**2) rounds to one.
        half = 0.5 * incomplete_beta(0.5, 0.5 * dof, t * t / (dof + t * t))
        return 0.5 + math.copysign(half, t)
    tail = 0.5 * incomplete_beta(0.5 * dof, 0.5, dof / (dof + t * t))
    return 1.0 - tail if t > 0.0 else tail


@lru_cache(maxsize=512)
def student_quantile(p: float, dof: float) -> float:
    """Return t with student_cdf(t, dof) = p, 0 < p < 1, to 1e-10 relative."""
    if p < 0.5:
        return -student_quantile(1.0 - p, dof)
    z = normal_quantile(p)
    if dof > 1e8 or p == 0.5:
        return z
    low, high = 0.0, max(2.0 * z, 1.0)
    while student_cdf(high, dof) < p:
        low, high = high, 2.0 * high
    start = z + (z**3 + z) / (4.0 * dof) + (5.0 * z**5 + 16.0 * z**3 + 3.0 * z) / (96.0 * dof**2)
    t = start if low < start < high else 0.5 * (low + high)
    log_scale = math.lgamma(0.5 * (dof + 1.0)) - math.lgamma(0.5 * dof)
    scale = math.exp(log_scale) / math.sqrt(dof * math.pi)
    for _ in range(200):
        gap = student_cdf(t, dof) - p
        low, high = (low, t) if gap > 0.0 else (t, high)
        density = scale * math.exp(-0.5 * (dof + 1.0) * math.log1p(t * t / dof))
        newton = t - gap / density if density > 0.0 else low
        following = newton if low < newton < high else 0.5 * (low + high)
        if abs(following - t) <= 1e-11 * abs(following):
            return following
        t = following
    return t


def coverage_factor(coverage: float, dof: float = math.inf) -> float:
    """Return k of the two-sided interval with this coverage (GUM G.3): t at (1 + p)/2."""
    return student_quantile(0.5 * (1.0 + coverage), dof)


def incomplete_gamma(a: float, x: float) -> float:
    """Return the regularised lower incomplete gamma function P(a, x), a above 0, x from 0."""
    if x <= 0.0:
        return 0.0
    front = math.exp(a * math.log(x) - x - math.lgamma(a))
    if x < a + 1.0:
        term = total = 1.0 / a
        n = a
        while term > 1e-17 * total:
            n += 1.0
            term *= x / n
            total += term
        return min(front * total, 1.0)
    return 1.0 - front * _gamma_fraction(a, x)


def _gamma_fraction(a: float, x: float) -> float:
    """Evaluate DLMF 8.9.2 in its even form by the modified Lentz method; x beyond a + 1."""
    b = x + 1.0 - a
    c, d = 1e300, 1.0 / b
    value = d
    for n in range(1, 10_000):
        factor = -n * (n - a)
        b += 2.0
        d = 1.0 / (factor * d + b)
        c = b + factor / c
        value *= c * d
        if abs(c * d - 1.0) < 1e-15:
            break
    return value


@lru_cache(maxsize=512)
def chi_squared_quantile(p: float, dof: float) -> float:
    """Return x with P(chi-squared of ``dof`` <= x) = p, 0 < p < 1, to 1e-10 relative."""
    spread = 2.0 / (9.0 * dof)
    start = dof * (1.0 - spread + normal_quantile(p) * math.sqrt(spread)) ** 3
    low, high = 0.0, max(2.0 * start, dof)
    while incomplete_gamma(0.5 * dof, 0.5 * high) < p:
        low, high = high, 2.0 * high
    for _ in range(200):
        middle = 0.5 * (low + high)
        below = incomplete_gamma(0.5 * dof, 0.5 * middle) < p
        low, high = (middle, high) if below else (low, middle)
        if high - low <= 1e-11 * high:
            break
    return 0.5 * (low + high)
