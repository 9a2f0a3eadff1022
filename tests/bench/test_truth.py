"""No record says otherwise than the bench model knows it, without a hold or a deviation.

A careless technician works unit after unit, with faults of the bench and the end of the program at
any moment; each record that says plainly "pass" is held against what is really in its unit.
``BENCHSTATION_WALKS`` says how many walks the soak takes.
"""

import os

import pytest

from tests.bench.careless_hands import Walk

SEEDS, UNITS = (1, 4, 5), 2
BETWEEN_S = (60.0, 150.0, 300.0, 600.0)
"""Something goes wrong each so many seconds of bench time, on the average."""
LONG_WALKS, LONG_UNITS = 200, 10


def walk(folder, seed: int, units: int) -> Walk:
    """Walk on until so many units are filed or given up, and demand that no record lies."""
    folder.mkdir()
    taken = Walk(folder, seed)
    try:
        for _ in range(units):
            taken.unit(taken.chance.choice(BETWEEN_S))
        verified = taken.bench.store.verify()
    finally:
        taken.close()
    for found in taken.findings:
        print(f"seed {seed}, {found.serial}: {'; '.join(found.what)}", *found.story, sep="\n")
    assert not taken.findings, [(seed, f.serial, f.what) for f in taken.findings]
    assert verified.ok, verified.problem
    return taken


def test_a_few_walks_file_no_lie(tmp_path):
    taken = [walk(tmp_path / str(seed), seed, UNITS) for seed in SEEDS]
    # Walks that end in nothing but holds would prove nothing.
    assert sum(one.filed for one in taken) >= len(SEEDS) * UNITS // 2
    assert sum(one.plain for one in taken) >= len(SEEDS)


def test_without_slips_the_same_hands_file_plain_passes(tmp_path):
    """What the walk holds against the truth is right where nothing went wrong."""
    taken = Walk(tmp_path, 1, slips=0.0)
    try:
        for _ in range(4):
            taken.unit(1e9)
        assert taken.plain == 4
        assert not taken.findings
    finally:
        taken.close()


@pytest.mark.soak
@pytest.mark.timeout(20_000)
def test_many_walks_file_no_lie(tmp_path):
    count = int(os.environ.get("BENCHSTATION_WALKS", LONG_WALKS))
    filed = plain = 0
    for seed in range(1000, 1000 + count):
        taken = walk(tmp_path / str(seed), seed, LONG_UNITS)
        filed, plain = filed + taken.filed, plain + taken.plain
    print(f"{count} walks, {count * LONG_UNITS} units: {filed} filed, {plain} plain passes")
