"""An over-pressure changes the lamp at once while the bench and the window both stand still."""

import threading
from datetime import UTC, datetime

from benchstation.bench.assembly import bench_from
from benchstation.bench.outputs.assembly import lamp_for
from benchstation.clock import running_clock
from benchstation.config.settings import parse_settings
from benchstation.demo import shop as demo
from benchstation.demo.world import make_world, serve_world
from benchstation.screens.records.page import Records
from benchstation.screens.service import Station
from benchstation.store.engine import open_store
from benchstation.ui.shell.window import Window
from sample_devices.host import TcpHost
from tests.bench.outputs.test_lamp import TEXT, Listener
from tests.waiting import eventually

OVER_PA = 37e5
BLOCKED_S = 30.0


def test_the_lamp_needs_neither_the_bench_nor_the_window(qtbot, tmp_path):
    with open_store(tmp_path / "s.sqlite", demo.BENCH) as store:
        demo.found(store, datetime.now(UTC))
        clock = running_clock()
        world = make_world(5, demo.AIR)
        served = serve_world(world, clock.seconds)
        device = Listener()
        host = TcpHost(device, clock.seconds)
        live = bench_from(store, demo.demo_shop(store), clock, lambda: demo.AIR)
        session = live.session
        settings = parse_settings({"lamp": {"url": host.url, "text": TEXT}})
        session.outputs.show_on(lamp_for(settings.lamp, session))
        session.outputs.lamp.start()
        station = Station(live, Records(store))
        session.scale.instrument.connect(served.scale.url)
        session.gauge.instrument.connect(served.gauge.url)
        session.watch.arm()
        station.start()
        window = Window(station)
        qtbot.addWidget(window)
        window.show()
        window.start()
        qtbot.waitUntil(lambda: device.last == "normal", timeout=5000)
        held: list[float] = []
        let_go = threading.Event()

        def hold_up(_: object) -> None:
            if not held:
                held.append(clock.seconds())
                let_go.wait(BLOCKED_S)
                held.append(clock.seconds())

        live.followers.append(hold_up)
        qtbot.waitUntil(lambda: bool(held), timeout=2000)
        over = clock.seconds()
        world.gauge.offset_pa = OVER_PA
        # The window's thread, which is this one, does nothing but look at the lamp.
        eventually(lambda: device.last == "alarm")
        assert len(held) == 1, "the bench has stood still all the while"
        alarm = next(t for t, line in device.lines if line == "alarm")
        assert over <= alarm <= over + 1.0
        let_go.set()
        qtbot.waitUntil(lambda: bool(window.view.alarms), timeout=5000)
        window.close()
        station.close()
        session.outputs.lamp.close()
        qtbot.waitUntil(lambda: device.last == "lost", timeout=2000)
        session.scale.instrument.stop()
        session.gauge.instrument.stop()
        served.close()
        host.close()
