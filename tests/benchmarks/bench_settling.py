"""What the settling fit costs as a charge grows at 100 Hz, as a share of a core.

    python tests/benchmarks/bench_settling.py

Each reading is taken in and the fit is made anew twice a second, as at the bench. A fit of all
readings, as a station would make that keeps no means, stands beside it.
"""

import time

import numpy as np

from benchstation.bench.capture.charging import FIT_EVERY_S, Charging
from benchstation.devices.instrument import Sample
from benchstation.physics.settling import fit_settling

TARGET, RATE_HZ, SECONDS, PART_S = 15e5, 100, 800, 100


def pressure(at: float) -> float:
    """Return a fast fill that cools with a time constant that no record of a part sees."""
    return (TARGET + 2e5) * at / 5 if at < 5 else TARGET + 2e5 * float(np.exp(-(at - 5) / 40.0))


def main() -> None:
    """Print the shares part by part."""
    chance = np.random.default_rng(3)
    charging = Charging(TARGET, 150.0)
    for begin in range(0, SECONDS, PART_S):
        spent = 0.0
        for n in range(begin * RATE_HZ, (begin + PART_S) * RATE_HZ):
            at = n / RATE_HZ
            sample = Sample(
                pressure(at) + chance.normal(0, 100), at, None, 100.0, "bar", b"+015.000 bar"
            )
            start = time.perf_counter()
            charging.take(sample)
            charging.settling(at)
            spent += time.perf_counter() - start
        t, p = charging.all()
        start = time.perf_counter()
        fit_settling(t[500:], p[500:], 3000.0)
        whole = (time.perf_counter() - start) / FIT_EVERY_S
        print(
            f"to {begin + PART_S:4d} s: {spent / PART_S:6.2%} of a core; "
            f"one fit of all readings twice a second {whole:6.2%}"
        )


if __name__ == "__main__":
    main()
