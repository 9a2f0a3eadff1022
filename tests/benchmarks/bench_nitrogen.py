"""Nitrogen states a second, many at once, against CoolProp's PropsSI one by one and many at once.

    python tests/benchmarks/bench_nitrogen.py

The last column is the ratio to PropsSI for the same output of the same states in the same run.
"""

import sys
import time
from collections.abc import Callable

import numpy as np
from CoolProp.CoolProp import PropsSI
from numpy.typing import NDArray

from benchstation.physics import compression, nitrogen

Array = NDArray[np.float64]
STATES = 200_000
ONE_BY_ONE = 4_000
ROUNDS = 5
GOAL = 20.0


def rate(work: Callable[[], object], count: int, rounds: int = ROUNDS) -> float:
    """Return the best of a few rounds in states a second."""
    best = 0.0
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        best = max(best, count / (time.perf_counter() - start))
    return best


def main() -> int:
    """Print rates and ratios; gives 1 when a goal is missed."""
    chance = np.random.default_rng(1)
    temperature = chance.uniform(253.15, 393.15, STATES)
    pressure = chance.uniform(0.5e5, 60e5, STATES)
    density = nitrogen.density_kg_m3(pressure, temperature)
    few = slice(0, ONE_BY_ONE)
    reference = PropsSI("D", "T", temperature[few], "P", pressure[few], "Nitrogen")
    worst = float(np.max(np.abs(density[few] / reference - 1.0)))
    pairs = list(zip(pressure[few].tolist(), temperature[few].tolist(), strict=True))

    single = rate(lambda: [PropsSI("D", "T", t, "P", p, "Nitrogen") for p, t in pairs], ONE_BY_ONE)
    many = rate(
        lambda: PropsSI("D", "T", temperature[few], "P", pressure[few], "Nitrogen"), ONE_BY_ONE
    )
    print(f"{'PropsSI, one by one':38} {single:14,.0f}/s")
    print(f"{'PropsSI, arrays':38} {many:14,.0f}/s")
    print(f"largest difference in density {worst:.2e}")
    ratio = np.full(STATES, 0.6)
    start = np.minimum(pressure, 20e5)
    entropy = PropsSI("S", "T", temperature[few], "P", start[few], "Nitrogen")
    rho2 = PropsSI("D", "T", temperature[few], "P", start[few], "Nitrogen") / 0.6

    def props(output: str, one: str, first: Array, two: str, second: Array) -> float:
        """Return the rate of PropsSI on arrays, its quicker way."""
        return rate(lambda: PropsSI(output, one, first, two, second, "Nitrogen"), ONE_BY_ONE, 2)

    few_t, few_p, few_d = temperature[few], pressure[few], density[few]
    rows: tuple[tuple[str, Callable[[], object], int, float], ...] = (
        ("density, arrays", lambda: nitrogen.density_kg_m3(pressure, temperature), STATES, many),
        (
            "pressure, arrays",
            lambda: nitrogen.pressure_pa(density, temperature),
            STATES,
            props("P", "T", few_t, "D", few_d),
        ),
        (
            "temperature, arrays",
            lambda: nitrogen.temperature_k(pressure, density),
            STATES,
            props("T", "P", few_p, "D", few_d),
        ),
        (
            "fast compression, arrays",
            lambda: compression.isentropic_end(start, temperature, ratio),
            STATES,
            props("P", "D", rho2, "S", entropy),
        ),
        (
            "density, one by one",
            lambda: [nitrogen.density_kg_m3(p, t) for p, t in pairs],
            ONE_BY_ONE,
            single,
        ),
    )
    missed = worst > 2e-4
    for name, work, count, bare in rows:
        found = rate(work, count)
        arrays = name.endswith("arrays")
        verdict = "" if not arrays else ("meets" if found / bare >= GOAL else "MISSES")
        missed |= verdict == "MISSES"
        goal = f"{verdict} {GOAL:.0f}" if arrays else ""
        print(f"{name:38} {found:14,.0f}/s   {found / bare:8.1f} of PropsSI   {goal}")
    return int(missed)


if __name__ == "__main__":
    sys.exit(main())
