"""A working day at the real window, in bench time: units, pages, records, alarms, plugs.

Bench, station and window are moved on by one thread, so the day is the same on every machine and
takes as long as the work takes. Only what reads records has its own thread, as in the program.
"""

import gc
import random
import time
from pathlib import Path

from PySide6.QtWidgets import QApplication

from benchstation.demo import shop as demo
from benchstation.screens.records.page import Records
from benchstation.screens.service import Station
from benchstation.ui.shell.run import COLLECT_MS, MemoryKeeper
from benchstation.ui.shell.window import Window
from tests.long_life.counting import Counted, counted
from tests.stepped_bench import STEP_S, make_bench
from tests.ui.every_page import EVERY_PAGE
from tests.ui.waiting import settled
from tests.waiting import eventually

RATE_HZ = 100.0
LOOK_S = 1.0
"""The window looks as often in bench time; each look is a whole one."""
FAMILIES = tuple(demo.LOT_OF)
SIZE = (1280, 800)


class Day:
    """The bench of a day, and the window on it."""

    def __init__(self, folder: Path, *, past: int = 0, seed: int = 1) -> None:
        self.bench = make_bench(folder, seed=seed)
        for number in range(past):
            self.bench.work_to(None, serial=f"P-{number:04}")
            self.bench.session.act("next", {})
        for device in (self.bench.world.scale, self.bench.world.gauge):
            device.interval_s = 1.0 / RATE_HZ
        self.chance = random.Random(seed)
        self.station = Station(self.bench.live, Records(self.bench.store))
        self.window = Window(self.station)
        self.window.resize(*SIZE)
        self.window.show()
        self.window.start()
        self.units = self.looks = self.alarms = self.changes = 0
        self._look_at = self._collect_at = 0.0
        self.keeper = MemoryKeeper(self.window.is_quiet)
        # What is frozen would not be seen when it is counted.
        gc.unfreeze()

    def close(self) -> None:
        """Close the window and end the station."""
        self.keeper.close()
        self.window.close()
        self.station.close()
        self.bench.store.close()
        self.window.deleteLater()

    @property
    def now(self) -> float:
        """Return the bench's time since it began, in seconds."""
        return self.bench.clock.clock.seconds()

    def pass_time(self, seconds: float) -> None:
        """Let so much bench time go by."""
        for _ in range(round(seconds / STEP_S)):
            self.bench.run(STEP_S)
            if self.now >= self._look_at:
                self._look_at = self.now + LOOK_S
                self.look()

    def look(self) -> None:
        """Do what was asked of the bench, draw what there is to see, and collect as the program."""
        self.looks += 1
        if self.now >= self._collect_at:
            self._collect_at = self.now + COLLECT_MS / 1000
            self.keeper.collect()
        self.station._move_on(True, time.monotonic())
        self.window.bridge._look()
        QApplication.processEvents()

    def answered(self) -> None:
        """Wait until nothing is asked any more."""

        def quiet() -> bool:
            self.look()
            return not self.window.bridge._waiting

        eventually(quiet)
        settled()

    def act(self, action: str, **fields: str) -> None:
        """Have the bench do this, as the window would."""
        future = self.station.act(action, fields)
        self.look()
        future.result(0)

    # --- what fills a day ------------------------------------------------------------------------

    def work_unit(self) -> None:
        """Work a unit from its opening to its filing, and look at other pages meanwhile."""
        self.units += 1
        family = FAMILIES[self.units % len(FAMILIES)]
        technician = self.bench.technician(serial=f"U-{self.units:04}", family=family)
        turn_at = self.now
        for _ in technician.work():
            self.pass_time(STEP_S)
            if self.now >= turn_at:
                turn_at = self.now + self.chance.uniform(20.0, 60.0)
                self.go(self.chance.choice(EVERY_PAGE), self.chance.random())
                self.go("bench")
        self.act("next")

    def go(self, name: str, row: float = 0.0) -> None:
        """Go to a page, and open what stands so far down its list: 0 is its top, 1 its end."""
        self.changes += 1
        self.window.switch(name)
        self.answered()
        rows = getattr(getattr(self.window.made[name], "list", None), "rows", None)
        if rows is not None and rows.rowCount() > 0:
            at = int(row * (rows.rowCount() - 1))
            self.window.made[name].list.setCurrentIndex(rows.index(at, 0))
            self.answered()

    def go_round(self) -> None:
        """Go to every page once, then back to the bench."""
        for name in EVERY_PAGE:
            self.go(name)
        self.go("bench")

    def sign_in(self) -> None:
        """Sign somebody in."""
        self.act("sign_in", person=demo.TECHNICIANS[0], pin=demo.PIN)

    def other_looks(self) -> None:
        """Change theme and units, there and back."""
        for _ in range(2):
            self.window.switch("theme")
            self.act("units")
            self.answered()

    def pull_plugs(self) -> None:
        """Pull both plugs; mute and acknowledge the alarm that follows, and put them back."""
        session = self.bench.session
        for role in self.bench.lines:
            self.bench.unplugged.add(role)
            getattr(session, role).instrument.report_broken("the line was lost")
        self.pass_time(4.0)
        self._silence()
        self.bench.unplugged.clear()
        self.pass_time(3.0)
        assert not self.window.view.alarms, "the alarm of a plug that is back stays"

    def exceed_limit(self) -> None:
        """Let gas in past the limit; mute, acknowledge and vent."""
        model, session = self.bench.world.model, self.bench.session
        model.regulator_gauge_pa = session.watch.limits.limit_gauge_pa + 4e5
        model.valve_opening = 1.0
        self.bench.until(lambda: session.watch.snapshot().capture_locked)
        model.valve_opening = 0.0
        self._silence()
        model.vent_opening = 1.0
        self.pass_time(20.0)
        model.vent_opening = 0.0
        self._acknowledge()
        self.pass_time(2.0)
        assert not self.window.view.alarms, "the alarm of a line that is vented stays"

    def _silence(self) -> None:
        self.look()
        assert self.window.view.alarms
        assert self.window.banners.banners[0].isVisible()
        self.alarms += 1
        self.window.switch("mute")
        self.answered()
        self._acknowledge()

    def _acknowledge(self) -> None:
        for alarm in self.window.view.alarms:
            if alarm.hold_label:
                self.window.banners.acknowledged.emit(alarm.id, "seen; the line is looked at")
        self.answered()

    def round(self, rest_s: float) -> Counted:
        """Do a unit and all that lies around it, rest, and count."""
        self.work_unit()
        self.go_round()
        self.sign_in()
        self.other_looks()
        self.pull_plugs()
        self.exceed_limit()
        self.pass_time(rest_s)
        self.answered()
        return counted(self.window)
