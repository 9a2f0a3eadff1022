"""Who bears a wrong decision: consumer's and producer's risk (JCGM 106:2012, clause 9).

Specific risk is that of one measured item: a wrong acceptance has probability 1 - p_c, a wrong
rejection p_c (9.3.2, 9.3.3). Global risk is that of the next item, before it is measured: what the
process makes is taken as known, and

    R_C = integral outside the limits of g_0(x) P(accepted | x) dx    (9.5.2, consumer's)
    R_P = integral inside the limits of g_0(x) P(rejected | x) dx     (9.5.3, producer's)
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from benchstation.metrology.conformity import Conformity, Decision
from benchstation.metrology.distributions import normal_cdf
from benchstation.metrology.errors import MetrologyError

FloatArray = NDArray[np.float64]
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(24)
_REACH = 9.0
"""Standard deviations beyond which a normal density adds less than 1e-18."""


@dataclass(frozen=True, slots=True)
class Process:
    """What is made, before it is measured: a density and the interval that holds all of it.

    ``density`` takes an array of values and gives the probability density of each; ``low`` and
    ``high`` are finite.
    """

    density: Callable[[FloatArray], FloatArray]
    low: float
    high: float


def normal_process(mean: float, std: float) -> Process:
    """Return a process that makes normally distributed values; ``std`` above zero."""
    if not (math.isfinite(mean) and 0.0 < std < math.inf):
        raise MetrologyError(f"a process with mean {mean} and spread {std} cannot be judged.")
    scale = 1.0 / (std * math.sqrt(2.0 * math.pi))

    def density(x: FloatArray) -> FloatArray:
        return np.asarray(scale * np.exp(-0.5 * ((x - mean) / std) ** 2))

    return Process(density, mean - _REACH * std, mean + _REACH * std)


@dataclass(frozen=True, slots=True)
class GlobalRisk:
    """Shares of all items made, 0 to 1.

    ``consumer``: accepted though outside the limits; ``producer``: rejected though inside them;
    ``accepted``: accepted at all; ``conforming``: inside the limits, whatever was measured.
    """

    consumer: float
    producer: float
    accepted: float
    conforming: float

    @property
    def consumer_of_accepted(self) -> float:
        """Share of the accepted items that are outside the limits; NaN when none is accepted."""
        return self.consumer / self.accepted if self.accepted > 0.0 else math.nan


def specific_risk(judgement: Conformity) -> float:
    """Return the probability that this decision is wrong (JCGM 106, 9.3.2 and 9.3.3).

    Consumer's risk 1 - p_c of a PASS, producer's risk p_c of a FAIL. UNDECIDED gives the lesser:
    what acceptance or rejection, whichever is likelier right, would risk.
    """
    outside = 1.0 - judgement.probability
    if judgement.decision is Decision.PASS:
        return outside
    if judgement.decision is Decision.FAIL:
        return judgement.probability
    return min(outside, judgement.probability)


def global_risk(
    process: Process,
    u: float,
    lower: float | None,
    upper: float | None,
    guard_band: float = 0.0,
) -> GlobalRisk:
    """Return the global risks of accepting within the limits drawn in by ``guard_band``.

    ``u`` is the standard uncertainty of the measurement, normal around the true value; a negative
    guard band widens acceptance. Integrated by Gauss-Legendre panels between the places where the
    integrand bends, to about 1e-9. Raises MetrologyError for limits that make no sense.
    """
    low = -math.inf if lower is None else lower
    high = math.inf if upper is None else upper
    if not (low < high and 0.0 <= u < math.inf and math.isfinite(guard_band)):
        raise MetrologyError(
            f"no risk can be told for limits {lower} and {upper}, an uncertainty of {u} and a "
            f"guard band of {guard_band}.",
            advice="Check the tolerance and the uncertainty budget.",
        )
    accept_low, accept_high = low + guard_band, high - guard_band
    x, weight = _grid(process, u, (low, high, accept_low, accept_high))
    mass = weight * process.density(x)
    accepted = _acceptance(x, u, accept_low, accept_high)
    inside = (x >= low) & (x <= high)
    return GlobalRisk(
        consumer=float(mass @ np.where(inside, 0.0, accepted)),
        producer=float(mass @ np.where(inside, 1.0 - accepted, 0.0)),
        accepted=float(mass @ accepted),
        conforming=float(mass @ inside),
    )


def guard_band_for(
    process: Process, u: float, lower: float | None, upper: float | None, consumer: float
) -> float:
    """Return the least guard band that keeps the global consumer's risk to ``consumer``.

    Zero when simple acceptance already does. Raises MetrologyError when no guard band that still
    accepts anything is enough.
    """
    if global_risk(process, u, lower, upper).consumer <= consumer:
        return 0.0
    width = process.high - process.low + 2.0 * _REACH * u
    most = width if lower is None or upper is None else 0.5 * (upper - lower)
    if not consumer > 0.0 or global_risk(process, u, lower, upper, most).consumer > consumer:
        raise MetrologyError(
            f"no guard band keeps the risk of a wrong acceptance to {consumer:.2g}.",
            advice="Measure with less uncertainty, or improve the process.",
        )
    least = 0.0
    for _ in range(60):
        middle = 0.5 * (least + most)
        if global_risk(process, u, lower, upper, middle).consumer > consumer:
            least = middle
        else:
            most = middle
        if most - least <= 1e-9 * most:
            break
    return most


def _grid(
    process: Process, u: float, bends: tuple[float, float, float, float]
) -> tuple[FloatArray, FloatArray]:
    """Return nodes and weights, panels split at the limits and narrow where acceptance turns."""
    turns = [place + steps * u for place in bends[2:] for steps in (-8, -4, -2, 0, 2, 4, 8)]
    within = {p for p in (*bends, *turns) if process.low < p < process.high}
    regular = np.linspace(process.low, process.high, 19).tolist()
    edges = np.array(sorted(within.union(regular)))
    half = 0.5 * np.diff(edges)
    middle = edges[:-1] + half
    return (middle[:, None] + half[:, None] * _NODES).ravel(), (half[:, None] * _WEIGHTS).ravel()


def _acceptance(x: FloatArray, u: float, low: float, high: float) -> FloatArray:
    """Return the probability that a true value is measured within the acceptance limits."""
    if low > high:
        return np.zeros_like(x)
    if u == 0.0:
        return ((x >= low) & (x <= high)).astype(float)
    values = [normal_cdf((high - v) / u) - normal_cdf((low - v) / u) for v in x.tolist()]
    return np.array(values).clip(min=0.0)
