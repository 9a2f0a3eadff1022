"""A technician at the real window in a process of its own, which may be killed at any moment.

A server imports once and forks a worker for each line: ``STORE SCALE GAUGE PACE SCRIPT``. What
stands on the bench does not die with the station: the devices live in the process that kills, and
what the hand does goes there, one line of JSON each on standard output.
"""

import json
import os
import sys
import time
from functools import partial
from itertools import count
from pathlib import Path

from pytestqt.qt_compat import qt_api
from pytestqt.qtbot import QtBot

from benchstation import app
from benchstation.bench.bench_settings import BenchSettings
from benchstation.clock import running_clock
from benchstation.demo import shop as demo
from benchstation.store.engine import open_store
from tests.end_to_end.hands import (
    HOLD_MS,
    ROUTE,
    Person,
    after_filing,
    fill_gas,
    open_unit,
    read_air,
    sign_in,
    tare,
)


def tell(**words) -> None:
    os.write(1, json.dumps(words).encode() + b"\n")


class FarHand:
    """Hands on a bench in another process."""

    def __getattr__(self, name):
        return lambda *given: tell(hand=name, given=given)

    def state(self):
        return {}


def follow(session) -> None:
    """Tell which unit was put on the bench."""
    rebuild = session.rebuild
    if rebuild is not None and not rebuild.ended and rebuild.unit_id != follow.told:
        follow.told = rebuild.unit_id
        lot = session.shop.lots[rebuild.opened.oil_lot]
        tell(unit=rebuild.unit_id, family=rebuild.specification.id, rho=lot.rho15_kg_m3)


follow.told = ""


def route(person: Person) -> None:
    """Do whatever step is offered, for ever."""
    for number in count():
        step = person.task.step_id
        if step == "open":
            open_unit(person, f"K-{os.getpid()}-{number}")
        elif step == "filed":
            after_filing(person)
        else:
            if step in ("oil", "bleed"):
                person.hand.pour_back(step)
            ROUTE[step](person)
        tell(done=step)


def stopped(person: Person) -> None:
    """Come to the middle of a pour or a charge, look what a stop of this process does, go on."""
    window, session, step = person.window, person.session, person.task.step_id
    if step == "oil":
        tare(person, "body")
        person.hand.set_pour(0.3)
        person.until(lambda: session.scale.instrument.latest().value > 0.05)
    else:
        read_air(person)
        fill_gas(person, 1.16 * session.work.charge_target.target_gauge_pa)
        person.until(lambda: person.can("capture"))
        person.key("Space")
        person.until(lambda: session.work.charge_wanted)
    looked, stale, alarms = time.monotonic(), [], set()
    window.bridge.seen.connect(lambda view: stale.append([r.stale for r in view.strip]))
    window.bridge.seen.connect(lambda view: alarms.update(a.headline for a in view.alarms))
    tell(amid=step)
    person.until(lambda: bool(alarms), 30)
    gone_s = time.monotonic() - looked
    person.until(lambda: stale[-1] == [False, False])
    person.qtbot.wait(200)
    tell(
        seen=[any(role) for role in zip(*stale, strict=True)],
        alarms=sorted(alarms),
        gone_s=gone_s,
        said=window.view.said,
        can_capture=person.can("capture"),
    )
    person.hand.pour_back(step)
    person.until(lambda: not session.work.charge_wanted, 60)
    ROUTE[step](person)
    tell(done=step)
    person.qtbot.wait(60_000)


def work(station, script: str, **_) -> int:
    """Stand in for the window's own loop."""
    from PySide6.QtWidgets import QApplication

    from benchstation.ui.shell.run import ensure_fonts
    from benchstation.ui.shell.window import Window

    application = QApplication([])
    application.setStyle("Fusion")
    ensure_fonts()
    window = Window(station, hold_ms=HOLD_MS)
    window.resize(1280, 800)
    window.show()
    window.start()
    person = Person(QtBot(None), window, station, FarHand())
    person.until(lambda: window.view is not None)
    sign_in(person)
    task, steps = person.task, window.view.steps
    tell(
        offered=task.step_id,
        unit_title=window.view.unit_title,
        steps=[(s.id, s.state.value, s.evidence) for s in steps],
        tare=not any(a.enabled for a in task.actions if a.id == "capture"),
    )
    {"route": route, "stopped": stopped}[script](person)
    return 0


def run(folder: Path, scale: str, gauge: str, pace: float, script: str) -> None:
    """The wiring of the real bench, with a quicker clock and the window above."""
    app.run_window = partial(work, script=script)
    with open_store(folder / app.STORE_FILE, demo.BENCH) as store:
        wiring = app._Wiring(
            demo.demo_shop(store),
            running_clock(pace),
            lambda: demo.AIR,
            {"scale-1": scale, "gauge-1": gauge},
            follow=follow,
            # Bench time is quick here: ten minutes of a hand that waits are ten of its own.
            settings=BenchSettings(app.demo_settings(sign_out_after_s=600.0 * pace)),
        )
        app._run(store, wiring, folder)


def serve() -> None:
    from PySide6 import QtWidgets  # noqa: F401 - imported before the fork, so once

    from benchstation.ui.shell import window  # noqa: F401
    from benchstation.ui.widgets.plots import trace  # noqa: F401

    qt_api.set_qt_api("pyside6")

    for line in sys.stdin:
        folder, scale, gauge, pace, script = line.rstrip("\n").split("\t")
        pid = os.fork()
        if pid == 0:
            try:
                run(Path(folder), scale, gauge, float(pace), script)
            except BaseException as error:  # noqa: BLE001 - told, and the end of this process
                import traceback

                tell(failed="".join(traceback.format_exception(error))[-1800:])
            finally:
                os._exit(1)
        tell(worker=pid)
        tell(gone=os.waitpid(pid, 0)[1])


if __name__ == "__main__":
    serve()
