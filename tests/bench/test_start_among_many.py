"""What a start reads does not grow with the units on record, nor do signing in and filing."""

from datetime import timedelta
from pathlib import Path

import pytest

from benchstation.demo import shop as demo
from benchstation.domain.events import RebuildOpened, UnitFiled
from benchstation.store import connections
from benchstation.store.engine import open_store
from benchstation.store.queries import filed_of_order, last_part_lots
from benchstation.store.unit_rows import has_filed
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


def test_filing_and_what_is_looked_up_by_a_name_read_as_much_among_three_times_the_units(
    shops, counted
):
    taken = []
    for path in shops:
        with open_store(path, demo.BENCH) as store:
            opened = RebuildOpened("new", "N-1", "another family", "s", 1, "L-9", "WO-9")
            store.append([opened], person="new", utc=START)
            asks = {
                "filing": lambda store=store: store.append(
                    [UnitFiled("new", "N-1", "pass", False, {})], person="new", utc=START
                ),
                "an order": lambda store=store: filed_of_order(store, "WO-9"),
                "part lots": lambda store=store: last_part_lots(store, "another family"),
                "who filed": lambda store=store: has_filed(store, "nobody"),
            }
            own = {}
            for name, ask in asks.items():
                counted.clear()
                ask()
                own[name] = len(counted)
            assert filed_of_order(store, "WO-9") == ["new"]
            taken.append(own)
    few, more = taken
    for name, steps in few.items():
        assert more[name] <= 1.1 * steps + 5, f"{name}: {steps}, then {more[name]}"
