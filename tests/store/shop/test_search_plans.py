"""What is asked of the whole shop is read from indexes, and each bench's checks count for it."""

import re
from dataclasses import replace

import pytest
from sqlalchemy import event

from benchstation.domain.events import InstrumentChecked, StepSigned
from benchstation.domain.inputs.zero import ZeroRead
from benchstation.screens.records.instrument_search import about
from benchstation.screens.records.page import Records
from benchstation.store.engine import open_store
from benchstation.store.recall import units_since
from benchstation.store.shop.shop_store import open_shop
from tests.store.test_search import QUESTIONS

GROWING = ("unit", "unit_lot", "unit_material", "unit_instrument", "unit_word", "text_part",
           "evidence", "journal")  # fmt: skip


@pytest.fixture
def desk(shop, tmp_path, clock, samples, opening, filing):
    """A shop of two benches, whose gauge has one name; each has its own checks."""
    registered = samples["instrument.registered"]

    gauge = replace(registered, instrument_id="gauge-1", role="gauge", serial_number="SN-1")
    with open_shop(shop.login_address("shop_desk")) as opened:
        for n, bench in enumerate(("bench-1", "bench-2")):
            with open_store(tmp_path / f"{bench}.db", bench) as store:
                for at in range(3):
                    unit = f"{bench}-{at}"
                    read = ZeroRead("zero1", "unit", 100.0, 1e4, "gauge-1")
                    events = [opening(unit, f"MR-{n}{at}"), StepSigned(unit, "release", (read,))]
                    first = [gauge] if not at else []
                    events = [*first, *events, filing(unit, f"MR-{n}{at}")]
                    store.append(events, person="ines", utc=clock())
                    if at == n:
                        good = InstrumentChecked("gauge-1", "zero check", 0.0, 1.0, 2.0, True)
                        store.append([good], person="ines", utc=clock())
                shop.take(store)
        opened.catch_up()
        yield opened


def test_each_benchs_own_checks_count_for_its_units(desk):
    found = [row.unit_id for row in units_since(desk, ["gauge-1"])]
    assert found == ["bench-1-2", "bench-1-1", "bench-2-2"]
    words = "gauge-1 since the last good check"
    assert [row.unit_id for row in Records(desk).find(words)] == found
    lines = about(desk, words).splitlines()
    assert [line.split()[0] for line in lines] == ["2", "One"]
    assert [re.search(r"at (bench-\d)", line)[1] for line in lines] == ["bench-1", "bench-2"]
    assert about(desk, "gauge-1").startswith("6 units rest on")


def test_nothing_that_is_asked_reads_a_whole_table(desk):
    asked = {}

    def note(_, __, statement, parameters, ___, ____):
        if statement.startswith("SELECT"):
            asked[statement] = parameters

    event.listen(desk._engine, "before_cursor_execute", note)
    for question in QUESTIONS.values():
        if question is not QUESTIONS["a unit"]:
            question(desk)
    Records(desk).find("gauge-1")
    desk.entries(unit_id="bench-1-1")
    event.remove(desk._engine, "before_cursor_execute", note)
    assert len(asked) > 15
    with desk.reading() as connection:
        # Among so few rows the server would rather read them all.
        for method in ("seqscan", "bitmapscan"):
            connection.exec_driver_sql(f"SET LOCAL enable_{method} = off")
        for statement, parameters in asked.items():
            plan = connection.exec_driver_sql(f"EXPLAIN {statement}", parameters).scalars().all()
            for line in plan:
                read = re.search(r"Seq Scan on (\w+)", line)
                assert read is None or read[1] not in GROWING, "\n".join([statement, *plan])
