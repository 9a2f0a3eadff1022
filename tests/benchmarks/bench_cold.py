"""How long a command takes from nothing, against a bare interpreter in turns.

python tests/benchmarks/bench_cold.py [rounds]
"""

import statistics
import subprocess
import sys
import time

COMMANDS = (
    ("--version",),
    ("calc", "--help"),
    ("calc", "oil", "--volume", "262 mL", "--density", "0.851 g/mL"),
)
GOAL = 4.0


def took_s(*command: str) -> float:
    """Run a command and return its time on the wall."""
    start = time.perf_counter()
    subprocess.run([sys.executable, *command], check=True, capture_output=True)
    return time.perf_counter() - start


if __name__ == "__main__":
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 15
    bare: list[float] = []
    ours: dict[tuple[str, ...], list[float]] = {command: [] for command in COMMANDS}
    for _ in range(rounds):
        bare.append(took_s("-c", "pass"))
        for command, times in ours.items():
            times.append(took_s("-m", "benchstation", *command))
    middle = statistics.median(bare)
    print(f"bare interpreter: {middle * 1000:.0f} ms")
    for command, times in ours.items():
        one = statistics.median(times)
        print(f"{' '.join(command)}: {one * 1000:.0f} ms, {one / middle:.1f} times")
    print(f"goal for --version: {GOAL:.0f} times")
