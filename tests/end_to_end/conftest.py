"""The real window on virtual devices behind real lines, at the start or amid a unit."""

import gc
import shutil
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta

import pytest

from benchstation.bench.assembly import bench_from
from benchstation.bench.tare_loss import recover
from benchstation.clock import Clock, rehearsal_clock
from benchstation.demo import shop as demo
from benchstation.demo.hand import VirtualHand
from benchstation.demo.world import make_world, serve_world
from benchstation.domain.specification import StepKind
from benchstation.screens.records.page import Records
from benchstation.screens.service import Station
from benchstation.store.engine import open_store
from benchstation.ui.shell import bridge
from benchstation.ui.shell.window import Window
from tests.end_to_end.hands import HOLD_MS, Person, sign_in
from tests.stepped_bench import make_bench

PACE = 12.0
STORE = "rebuilds.sqlite"


class Bench:
    """What stands on the bench whether the station runs or not: two devices and their ports."""

    def __init__(self, clock: Clock) -> None:
        self.clock = clock
        self.world = make_world(8, demo.AIR)
        self.served = serve_world(self.world, clock.seconds)
        self.hand = VirtualHand(self.world)

    def lay_out(self, session) -> None:
        """Put the unit on the bench as its journal left it: empty, or filled and closed."""
        unit, model = session.rebuild, self.world.model
        if unit is None or self.hand._unit == [unit.unit_id]:
            return
        self.hand.follow(session)
        model.put_on_pan("body")
        if unit.current.kind in (StepKind.CHARGE, StepKind.FILE):
            model.oil_kg = unit.net_shown_kg
            model.put_on_pan("tray")
            model.put_on_pan("nothing")


@pytest.fixture(autouse=True)
def garbage_in_this_thread():
    """Collect garbage here alone: a window that is collected in a reader's thread ends the process.

    The program itself does so too (``ui/run.py``).
    """
    gc.collect()
    gc.disable()
    yield
    gc.collect()
    gc.enable()


@pytest.fixture(autouse=True)
def fewer_frames(monkeypatch):
    """Show twenty moments a second: they go by twelve times as fast as they would."""
    monkeypatch.setattr(bridge, "TICK_MS", 50)


@contextmanager
def window_at(qtbot, path, bench: Bench):
    """Start the station on these records and open its window; at the end both are closed."""
    with open_store(path, demo.BENCH) as store:
        wake = []
        live = bench_from(
            store,
            demo.demo_shop(store),
            bench.clock,
            lambda: demo.AIR,
            on_change=lambda: [call() for call in wake],
        )
        live.followers.append(bench.hand.follow)
        session = live.session
        recover(session)
        bench.lay_out(session)
        station = Station(live, Records(store), hint=demo.HINT, note="note")
        wake.append(station.wake)
        session.scale.instrument.connect(bench.served.scale.url)
        session.gauge.instrument.connect(bench.served.gauge.url)
        session.watch.arm()
        station.start()
        window = Window(station, demo_hand=bench.hand, hold_ms=HOLD_MS)
        qtbot.addWidget(window)
        window.resize(1280, 800)
        window.show()
        window.start()
        qtbot.waitUntil(lambda: window.view is not None)
        person = Person(qtbot, window, station, bench.hand)
        person.bench = bench
        try:
            yield person
        finally:
            window.close()
            station.close()
            session.scale.instrument.stop()
            session.gauge.instrument.stop()


@pytest.fixture
def person(qtbot, tmp_path):
    """Somebody before a new station; nobody is signed in."""
    with open_store(tmp_path / STORE, demo.BENCH) as store:
        demo.found(store, datetime.now(UTC))
    bench = Bench(rehearsal_clock(PACE))
    with window_at(qtbot, tmp_path / STORE, bench) as made:
        yield made
    bench.served.close()


@pytest.fixture(scope="session")
def journals(tmp_path_factory):
    """Journals of a unit that was brought to the pour, to the charge, and to its end."""
    made = {}
    for kind in (StepKind.WEIGH, StepKind.CHARGE, StepKind.FILE):
        folder = tmp_path_factory.mktemp(f"at-{kind.value}")
        stepped = make_bench(folder, name=STORE, start=datetime.now(UTC) - timedelta(hours=2))
        stepped.work_to(kind)
        stepped.store.close()
        made[kind] = folder / STORE
    return made


@pytest.fixture
def middle(journals, tmp_path):
    """A bench in the middle of a unit, and its records: call it with the step."""
    benches = []

    def make(kind: StepKind):
        shutil.copyfile(journals[kind], tmp_path / STORE)
        benches.append(Bench(rehearsal_clock(PACE)))
        return benches[-1], tmp_path / STORE

    yield make
    for bench in benches:
        bench.served.close()


@pytest.fixture
def at_pour(qtbot, middle):
    bench, path = middle(StepKind.WEIGH)
    with window_at(qtbot, path, bench) as made:
        sign_in(made)
        yield made


@pytest.fixture
def at_charge(qtbot, middle):
    bench, path = middle(StepKind.CHARGE)
    with window_at(qtbot, path, bench) as made:
        sign_in(made)
        yield made
