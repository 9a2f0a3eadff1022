"""Patterns on a control chart that chance alone seldom makes.

Zone rules of the NIST/SEMATECH e-Handbook 6.3.2 and the further tests of ISO 8258 that ISO 7870-2
took over (from memory: ISO 8258 counts 9 on one side). Zones are 1, 2 and 3 sigma either side of
the centre. Every rule more finds changes sooner and cries wolf more often, so only the four zone
rules are looked for unless others are named.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from enum import Enum

import numpy as np

from benchstation.metrology.errors import MetrologyError


class Rule(Enum):
    """A pattern, in words for people."""

    BEYOND_LIMIT = "1 point beyond 3 sigma"
    TWO_FAR_OUT = "2 of 3 beyond 2 sigma, same side"
    FOUR_OUTSIDE = "4 of 5 beyond 1 sigma, same side"
    ONE_SIDED = "8 in a row on one side"
    TREND = "6 in a row steadily rising or falling"
    SAWTOOTH = "14 in a row alternating up and down"
    TOO_CLOSE = "15 in a row within 1 sigma, either side"
    TOO_FAR = "8 in a row none within 1 sigma, both sides"

    @property
    def source(self) -> str:
        """Return where the rule is published."""
        return "NIST/SEMATECH e-Handbook 6.3.2" if self in ZONE_RULES else "ISO 7870-2"


ZONE_RULES = (Rule.BEYOND_LIMIT, Rule.TWO_FAR_OUT, Rule.FOUR_OUTSIDE, Rule.ONE_SIDED)


@dataclass(frozen=True, slots=True)
class Signal:
    """A rule that the points from ``first`` to ``last`` (places from 0) fulfil.

    ``last`` completes the pattern and belongs to it.
    """

    rule: Rule
    first: int
    last: int


def run_rules(
    values: Sequence[float],
    centre: float,
    sigma: float,
    rules: Iterable[Rule] = ZONE_RULES,
) -> tuple[Signal, ...]:
    """Find every completion of the rules, in the order of the points.

    A pattern that goes on signals again at each further point. A value exactly on the centre is on
    neither side. Raises MetrologyError for a sigma not above zero or values that are not finite.
    """
    z = np.asarray(values, dtype=float)
    if not (sigma > 0.0 and np.isfinite(z).all()):
        raise MetrologyError(
            "run rules need finite values and a spread above zero.",
            advice="Values that are all the same have no zones: look at the display's resolution.",
        )
    standard = ((z - centre) / sigma).tolist()
    asked = set(rules)
    watched = [(rule, _LENGTH[rule], _OF.get(rule)) for rule in Rule if rule in asked]
    found = []
    for last in range(len(standard)):
        for rule, length, of in watched:
            first = last - length + 1
            if of is not None:
                # 2 of 3 is fulfilled by the first two points of a chart already.
                there = _so_many(standard[max(first, 0) : last + 1], *of)
            else:
                there = first >= 0 and _WHOLE[rule](standard[first : last + 1])
            if there:
                found.append(Signal(rule, max(first, 0), last))
    return tuple(found)


def _so_many(z: list[float], needed: int, beyond: float) -> bool:
    side = 1.0 if z[-1] > 0.0 else -1.0
    return side * z[-1] > beyond and sum(side * v > beyond for v in z) >= needed


def _one_sided(z: list[float]) -> bool:
    return min(z) > 0.0 or max(z) < 0.0


def _trend(z: list[float]) -> bool:
    steps = np.diff(z)
    return bool((steps > 0.0).all() or (steps < 0.0).all())


def _sawtooth(z: list[float]) -> bool:
    steps = np.diff(z)
    return bool((steps[1:] * steps[:-1] < 0.0).all())


def _too_close(z: list[float]) -> bool:
    return all(abs(v) < 1.0 for v in z)


def _too_far(z: list[float]) -> bool:
    return all(abs(v) > 1.0 for v in z) and min(z) < 0.0 < max(z)


_OF = {Rule.BEYOND_LIMIT: (1, 3.0), Rule.TWO_FAR_OUT: (2, 2.0), Rule.FOUR_OUTSIDE: (4, 1.0)}
_WHOLE: dict[Rule, Callable[[list[float]], bool]] = {
    Rule.ONE_SIDED: _one_sided,
    Rule.TREND: _trend,
    Rule.SAWTOOTH: _sawtooth,
    Rule.TOO_CLOSE: _too_close,
    Rule.TOO_FAR: _too_far,
}
_LENGTH = {
    Rule.BEYOND_LIMIT: 1,
    Rule.TWO_FAR_OUT: 3,
    Rule.FOUR_OUTSIDE: 5,
    Rule.ONE_SIDED: 8,
    Rule.TREND: 6,
    Rule.SAWTOOTH: 14,
    Rule.TOO_CLOSE: 15,
    Rule.TOO_FAR: 8,
}
