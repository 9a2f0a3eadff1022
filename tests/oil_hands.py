"""Hands at the scale for stories of the oil: tare, pour, capture, and a station that is killed."""

from benchstation.bench.capture.weighing import Phase
from benchstation.bench.commands.capturing import EMPTIED
from benchstation.bench.tare_loss import recover
from benchstation.bench.targets import present_pour
from benchstation.domain.rebuild import fold
from benchstation.domain.specification import StepKind
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.screens.bench.page import bench_view
from tests.stepped_bench import make_bench

LIFT = (1 - 1.19 / 847.3) / (1 - 1.19 / 8000)


def act(bench, action, **fields):
    return bench.session.act(action, fields)


def view(bench):
    return bench_view(bench.session, QuantityFormatter(UnitSystem.METRIC))


def lines(bench):
    return [text for text, _ in view(bench).task.lines]


def enabled(bench, action):
    return next(a.enabled for a in view(bench).task.actions if a.id == action)


def terms(bench, title):
    group = next(g for g in view(bench).why if g.title == title)
    return [(t.label, t.value, t.source) for t in group.terms]


def tare(bench, what):
    bench.world.model.put_on_pan(what)
    unit = bench.session.unit()
    if unit.oil_lot not in unit.lots_confirmed:
        act(bench, "confirm_lot", lot=unit.oil_lot)
    bench.run(2)
    act(bench, "tare")
    if bench.session.work.open_form == EMPTIED:
        act(bench, "tare", emptied1="yes", emptied2="yes")
    bench.until(lambda: bench.session.work.weighing.phase is Phase.POURING)


def capture(bench):
    count = len(bench.session.rebuild.captures)
    act(bench, "capture")
    bench.until(lambda: len(bench.session.rebuild.captures) > count)


def pour(bench, kg):
    """Pour as a hand does; the jug gives it when it stands on the scale."""
    model, left = bench.world.model, kg
    while left > 0:
        part = min(0.002, left)
        model.oil_kg += part
        if model.on_pan == "jug":
            model.jug_kg -= part
        left -= part
        bench.run(0.1)
    bench.run(3)


def goal(bench):
    return present_pour(bench.session).goal_kg


def judged(bench, kind=StepKind.WEIGH):
    return bench.session.rebuild.oil_judged(kind)


def restart(bench, folder):
    """Kill the station and start it anew, with the virtual bench as it stands."""
    bench.store.close()
    again = make_bench(folder)
    again.world.model.__dict__.update(
        {k: v for k, v in bench.world.model.__dict__.items() if k not in ("lock", "_t")}
    )
    again.run(2)
    recover(again.session)
    again.sign_in()
    unit = again.session.rebuild
    entries = again.store.entries(unit_id=unit.unit_id)
    assert fold(entries, unit.specification) == unit
    return again
