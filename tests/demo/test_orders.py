"""The demo shop's day: orders wait when the window opens, and one unit of the pair is filed."""

from benchstation.demo import shop as demo
from benchstation.demo.orders import FOUR, PAIR, SINGLE, WAITS, begin_day
from benchstation.domain.orders import LineState
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.screens.queue.page import Queue
from benchstation.store.engine import open_store
from benchstation.store.order_queries import get_order
from tests.stepped_bench import START


def test_the_day_begins_with_a_pair_a_set_of_four_and_single_units(tmp_path):
    with open_store(tmp_path / "s.sqlite", demo.BENCH) as store:
        demo.found(store, START)
        begin_day(store, START)
        states = [line.state for line in get_order(store, PAIR).lines]
        assert states == [LineState.FILED, LineState.WAITING]
        assert len(get_order(store, FOUR).lines) == 4
        shop = demo.demo_shop(store)
        view = Queue(store, shop.current_specifications, lambda: START).find(
            QuantityFormatter(UnitSystem.METRIC)
        )
        assert "overdue" in view.said
        (waits,) = (row for row in view.rows if row.serial == WAITS)
        assert waits.state == LineState.SECOND
        assert waits.reason.startswith("waited, due now")
        fronts, rears = view.orders[FOUR].sets
        assert fronts.positions == ("front left", "front right")
        assert rears.positions == ("rear left", "rear right")
        assert view.orders[SINGLE].sets == ()
        assert store.open_unit() is None
        assert store.verify().ok
