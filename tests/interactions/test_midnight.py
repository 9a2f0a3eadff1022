"""What ends with a day ends at midnight by the wall, whatever is under way then."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from benchstation.bench.capture.weighing import Phase
from benchstation.bench.locks import capture_locked
from benchstation.bench.targets import present_pour
from benchstation.demo import shop as demo
from benchstation.domain.events import UnitFiled
from benchstation.domain.specification import StepKind
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.quantities.formatter import METRIC, day_of
from benchstation.screens.bench.page import bench_view
from benchstation.screens.quality.study import months_before
from benchstation.screens.records.period import period_in
from tests.stepped_bench import make_bench
from tests.zones import NEW_YORK, VIENNA, needs_zones, zone

pytestmark = needs_zones
LAST_DAY = date(2026, 11, 30)
LOT = demo.LOT_OF["mr-46-front"]


@pytest.mark.parametrize(
    ("where", "midnight"),
    [
        ("UTC0", datetime(2026, 12, 1, tzinfo=UTC)),
        (VIENNA, datetime(2026, 11, 30, 23, tzinfo=UTC)),
        (NEW_YORK, datetime(2026, 12, 1, 5, tzinfo=UTC)),
    ],
    ids=["UTC", "east of it", "west of it"],
)
def test_a_day_is_that_of_the_wall(where, midnight):
    with zone(where):
        assert day_of(midnight - timedelta(seconds=1)) == LAST_DAY
        assert day_of(midnight) == LAST_DAY + timedelta(days=1)


def test_a_day_of_23_or_25_hours_ends_at_its_own_midnight():
    days = [(date(2026, 3, 29), 23, 22), (date(2026, 10, 25), 22, 23)]
    with zone(VIENNA):
        for day, begins_at, ends_at in days:
            begins = datetime(day.year, day.month, day.day - 1, begins_at, tzinfo=UTC)
            ends = datetime(day.year, day.month, day.day, ends_at, tzinfo=UTC)
            assert day_of(begins) == day_of(ends - timedelta(seconds=1)) == day
            assert day_of(begins - timedelta(seconds=1)) < day < day_of(ends)


def test_a_day_and_a_month_that_are_searched_for_end_at_their_own_midnights():
    with zone(VIENNA):
        for words, hours in (("2026-03-29", 23), ("2026-10-25", 25), ("2026-03", 31 * 24 - 1)):
            since, until = period_in(words)
            assert until - since == timedelta(hours=hours), words
        (this, _), (last, end) = months_before(datetime(2026, 4, 1, 12, tzinfo=UTC), 2)
        assert (end, end - last) == (this, timedelta(hours=31 * 24 - 1))


@pytest.fixture
def bench(tmp_path):
    """A bench west of Greenwich in the last minutes of a lot's last day."""
    with zone(NEW_YORK):
        bench = make_bench(tmp_path, start=datetime(2026, 12, 1, 4, 50, tzinfo=UTC))
        lot = bench.session.shop.lots[LOT]
        bench.sign_in(demo.LEAD)
        bench.session.journal([replace(lot, until=LAST_DAY.isoformat())])
        yield bench
        bench.store.close()


def past_midnight(bench) -> None:
    bench.clock.advance(900.0)
    bench.run(1.0)
    assert bench.session.today > LAST_DAY


def filing(bench) -> UnitFiled:
    return bench.store.entries(kind=UnitFiled.kind)[-1].event


def test_a_lot_is_poured_until_its_last_midnight_and_its_unit_filed_after_it(bench):
    assert LOT in [lot.lot for lot in bench.session.shop.open_lots(bench.session.today)]
    bench.work_to(StepKind.BLEED)
    assert bench.session.today == LAST_DAY
    past_midnight(bench)
    bench.work_to(None)
    assert (filing(bench).decision, filing(bench).qa_hold) == ("pass", False)


def test_a_pour_that_goes_on_past_it_needs_a_deviation(bench):
    bench.work_to(StepKind.WEIGH)
    hand, session = bench.technician(), bench.session
    step = session.unit().current
    bench.world.model.put_on_pan("body")
    session.act("tare", {})
    bench.until(lambda: session.work.weighing.phase is Phase.POURING)
    bench.pour(present_pour(session).goal_kg)
    assert not capture_locked(session)
    past_midnight(bench)
    assert capture_locked(session) == f"lot {LOT} is expired since {LAST_DAY}"
    with pytest.raises(NotAllowedError, match="expired since"):
        session.act("capture", {})
    for _ in hand.deviate(step, "poured before midnight"):
        bench.run(0.1)
    bench.work_to(None)
    assert filing(bench).qa_hold


def test_a_unit_that_is_handed_over_at_night_is_as_it_was_in_the_morning(bench):
    bench.work_to(StepKind.CHARGE)
    bench.session.act("hand_over", {"reason": "charge it tomorrow"})
    past_midnight(bench)
    bench.sign_in(demo.TECHNICIANS[1])
    note, left = [words for words, _ in bench_view(bench.session, METRIC).task.lines[:2]]
    assert note == "Handed over: charge it tomorrow"
    name = bench.session.shop.people[demo.TECHNICIANS[0]].name
    assert left.startswith(f"by {name}, {LAST_DAY} 23:5")
    bench.session.act("take_over", {})
    bench.run(5.0)
    bench.work_to(None)
    assert (filing(bench).decision, filing(bench).qa_hold) == ("pass", False)
