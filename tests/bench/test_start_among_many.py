"""What a start reads does not grow with the units on record, nor does signing in."""

from datetime import timedelta
from pathlib import Path

import pytest

from benchstation.demo import shop as demo
from benchstation.store import connections
from benchstation.store.engine import open_store
from tests.cloned_units import Template, id_of
from tests.stepped_bench import START, make_bench

FEW, MORE = 220, 660


def names(number):
    return {"T-1": f"T-{number:05}"}


def grown(folder: Path, units: int) -> Path:
    """Let one unit be worked on and filed, and clone it."""
    bench = make_bench(folder)
    first = bench.store.head()[0] + 1
    bench.sign_in()
    bench.work_to(None)
    bench.run(1)
    unit_id = bench.store.entries(kind="unit.filed")[0].event.unit_id
    bench.store.close()
    path = folder / "rebuilds.sqlite"
    with open_store(path, demo.BENCH) as store, store._writing() as connection:
        template = Template(connection, demo.BENCH, unit_id, first)
        template.clone(1, units, names)
    return path


@pytest.fixture(scope="module")
def shops(tmp_path_factory):
    return [grown(tmp_path_factory.mktemp(f"of{n}"), n) for n in (FEW, MORE)]


@pytest.fixture
def counted(monkeypatch):
    """Count in hundreds the instructions that SQLite goes through, on every connection."""
    steps = []
    opened = connections._with_pragmas

    def counting(raw, pragmas, path):
        raw.set_progress_handler(lambda: steps.append(1) and None, 100)
        return opened(raw, pragmas, path)

    monkeypatch.setattr(connections, "_with_pragmas", counting)
    return steps


def test_a_grown_file_is_what_the_program_would_have_written(shops):
    with open_store(shops[0], demo.BENCH) as store:
        assert store.verify().problem == ""
        assert len(store.entries(unit_id=id_of(FEW))) > 20


def test_a_start_and_signing_in_read_as_much_among_three_times_the_units(shops, counted):
    taken = []
    for path in shops:
        later = START + timedelta(days=1)
        counted.clear()
        bench = make_bench(path.parent, start=later, seconds=0)
        begun = len(counted)
        bench.sign_in()
        taken.append((begun, len(counted) - begun))
        bench.store.close()
    (start, sign_in), (start_among_more, sign_in_among_more) = taken
    assert start_among_more <= 1.1 * start + 5
    assert sign_in_among_more <= 1.1 * sign_in + 5
