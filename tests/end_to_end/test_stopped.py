"""A machine that sleeps: the process is stopped for some seconds while the bench goes on.

After it nothing that was live may be taken for granted: readings are shown as old, the lost signal
is an alarm on record, tare and charge are proven anew, and all of that comes by itself.
"""

import os
import shutil
import signal

import pytest

from benchstation.demo import shop as demo
from benchstation.domain.events import (
    AlarmChanged,
    ChargeCaptured,
    MassCaptured,
    TareLost,
    TareProven,
)
from benchstation.domain.rebuild import fold
from benchstation.domain.specification import StepKind
from benchstation.store.engine import open_store
from tests.end_to_end.conftest import STORE
from tests.end_to_end.test_kills import Bench, Workers
from tests.waiting import let_pass

STOPPED_S = 3.0
pytestmark = [
    pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork to be quick"),
    pytest.mark.timeout(120),
]


@pytest.fixture
def amid(journals, tmp_path):
    """Start a technician who comes to the middle of a step."""
    made = []

    def start(kind: StepKind):
        shutil.copyfile(journals[kind], tmp_path / STORE)
        with open_store(tmp_path / STORE, "", read_only=True) as store:
            shop = demo.demo_shop(store)
            facts = store.entries(unit_id=store.open_unit())
        bench = Bench({name: s for (name, _), s in shop.specifications.items()})
        opened = facts[0].event
        rho = shop.lots[opened.oil_lot].rho15_kg_m3
        bench.bring(opened.unit_id, opened.specification_id, rho)
        # Laid out before anybody reads: a pressure that jumps would be an alarm of its own.
        bench.put_on_pan("body")
        if kind is StepKind.CHARGE:
            specification = bench.specifications[opened.specification_id]
            bench.world.model.oil_kg = fold(facts, specification).net_shown_kg
            bench.put_on_pan("tray")
            bench.put_on_pan("nothing")
        made.append(Workers(bench, tmp_path, "stopped"))
        return bench, made[-1]

    yield start
    for workers in made:
        workers.close()
        workers.bench.served.close()


def stop_and_go_on(workers: Workers, meanwhile) -> tuple[int, dict]:
    """Stop the station amid its step, do something at the bench, and let it go on."""
    pid = workers.start()
    workers.hear("amid")
    os.kill(pid, signal.SIGSTOP)
    let_pass(STOPPED_S / 2)
    meanwhile()
    let_pass(STOPPED_S / 2)
    os.kill(pid, signal.SIGCONT)
    return pid, workers.hear("seen")


def finish(workers: Workers, pid: int):
    workers.hear("done")
    os.kill(pid, signal.SIGKILL)
    workers.hear("gone")
    workers.pid = 0
    with open_store(workers.folder / STORE, "") as store:
        verified = store.verify()
        assert verified.ok, verified.problem
        return [entry.event for entry in store.entries()]


def assert_told(seen: dict, events) -> None:
    assert seen["seen"] == [True, True], "both readings were shown as old"
    assert any("SIGNAL" in headline for headline in seen["alarms"])
    states = [e.state for e in events if isinstance(e, AlarmChanged) and e.alarm == "signal lost"]
    assert states[:2] == ["active, unacknowledged", "returned, unacknowledged"]


def test_stopped_in_the_middle_of_a_pour(amid):
    bench, workers = amid(StepKind.WEIGH)
    # The jug goes on pouring while nobody looks, then is put down.
    pid, seen = stop_and_go_on(workers, lambda: bench.set_pour(0.0))
    assert not seen["can_capture"]
    assert "The tare is lost: there was no reading for" in seen["said"]
    events = finish(workers, pid)
    assert_told(seen, events)
    kinds = [type(e) for e in events if isinstance(e, TareProven | TareLost | MassCaptured)]
    assert kinds == [TareProven, TareLost, TareProven, MassCaptured]


def test_stopped_in_the_middle_of_a_charge(amid):
    """A capture that was asked for waits for gas that has settled after the stop."""
    bench, workers = amid(StepKind.CHARGE)
    model = bench.world.model

    def lose_some() -> None:
        with model.lock:
            model.gas_kg *= 0.97

    pid, seen = stop_and_go_on(workers, lose_some)
    events = finish(workers, pid)
    assert_told(seen, events)
    captured = next(e for e in reversed(events) if isinstance(e, ChargeCaptured))
    assert captured.decision == "pass"
    assert captured.settled_gauge_pa == pytest.approx(model.gas_gauge_pa, rel=0.005)
