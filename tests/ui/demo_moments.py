"""Every moment of a demonstration family's unit, as a technician comes to it, with its forms."""

from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from benchstation.driver_api.errors import StationError
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.screens.bench.page import bench_view
from benchstation.screens.model.bench import BenchView
from tests.stepped_bench import make_bench

METRIC = QuantityFormatter(UnitSystem.METRIC)


def sheets(bench):
    """Return the views of the forms that can be asked for at this moment."""
    for name in ("ways", "by_hand", "other_lot", "switch"):
        try:
            bench.session.act(name, {})
        except StationError:
            continue
        yield bench_view(bench.session, METRIC)
        bench.session.act("stay" if name == "switch" else "leave", {})


def moments_of_a_unit(bench, family):
    """Return the view of each step as a technician comes to it, and of what is asked there."""
    last, seen = "", []
    for _ in bench.technician(serial=family, family=family).work():
        view = bench_view(bench.session, METRIC)
        state = f"{view.task.step_id} {[a.id for a in view.task.actions]}"
        if state != last:
            last = state
            seen += [view, *sheets(bench)]
        bench.run(0.1)
    return [*seen, bench_view(bench.session, METRIC)]


@cache
def moments_of(family: str) -> tuple[BenchView, ...]:
    """Return them all, made once for whoever asks."""
    with TemporaryDirectory() as folder:
        bench = make_bench(Path(folder))
        views = tuple(moments_of_a_unit(bench, family))
        bench.store.close()
    return views
