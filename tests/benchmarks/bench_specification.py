"""A whole check of a specification, and the same curves by a bare numpy loop in the same run.

    python tests/benchmarks/bench_specification.py

Whole: figures, margins, both windows, both sensitivities, and curves over 61 travels at three
temperatures. Bare: only the pressures of those curves, ideal gas, and the same number of bisection
steps of one limit each, straight in numpy.
"""

import sys
import time
from collections.abc import Callable
from importlib.resources import files

import numpy as np

from benchstation.domain.specification import Specification, specification_from_toml
from benchstation.physics.assessment import Build, assess
from benchstation.physics.oil import Oil

GOAL_MS = 20.0
ROUNDS = 20


def build_of(s: Specification) -> Build:
    oil, reference = Oil(s.oil.typical_rho15), s.oil.reference_temperature
    return Build(
        s.geometry.model(),
        s.limits_model(),
        s.oil.volume,
        s.gas.gauge_pressure,
        oil.mean_expansion_per_k(reference, s.limits.hot),
        reference,
        oil=oil,
    )


def bare(build: Build) -> float:
    """Ideal-gas curves and eight bisections of 34 steps: what no computation can do without."""
    g = build.geometry
    travel = np.linspace(0.0, g.stroke_m, 61)
    whole = g.gas_volume_m3(build.oil_volume_m3)
    start = build.charge_gauge_pa + build.ambient_pa
    total = 0.0
    for kelvin in (build.limits.cold_limit_k, build.reference_k, build.limits.hot_limit_k):
        ratio = whole / (whole - g.rod_area_m2 * travel)
        warm = start * kelvin / build.reference_k
        total += float((warm * ratio).sum() + (warm * ratio**1.4).sum())
    for _ in range(8):
        low, high = 0.0, g.free_volume_m3
        for _ in range(34):
            middle = np.float64(0.5 * (low + high))
            gas = g.free_volume_m3 - middle
            bump = start * np.power(gas / np.maximum(gas - g.stroke_volume_m3, 1e-9), 1.4)
            if bump < build.limits.body_rating_gauge_pa:
                low = float(middle)
            else:
                high = float(middle)
        total += low
    return total


def best_ms(work: Callable[[], object]) -> float:
    found = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        work()
        found.append(1e3 * (time.perf_counter() - start))
    return min(found)


def main() -> int:
    """Print milliseconds and ratios; gives 1 when a goal is missed."""
    folder = files("resources") / "demo" / "specifications"
    missed = False
    for path in sorted(folder.iterdir(), key=lambda one: one.name):
        if not path.name.endswith(".toml"):
            continue
        text = path.read_text("utf-8")
        build = build_of(specification_from_toml(text))
        whole = best_ms(lambda build=build: assess(build))
        least = best_ms(lambda build=build: bare(build))
        read = best_ms(lambda text=text: specification_from_toml(text))
        verdict = "meets" if whole <= GOAL_MS else "MISSES"
        missed |= whole > GOAL_MS
        print(
            f"{path.name:22} whole check {whole:6.2f} ms   {whole / least:5.2f} of bare numpy   "
            f"{verdict} {GOAL_MS:.0f} ms   (reading the file and its window {read:.2f} ms)"
        )
    return int(missed)


if __name__ == "__main__":
    sys.exit(main())
