"""One state, one voice: while an alarm is open nothing on the screen tells anyone to let gas in."""

import random
import re
from collections.abc import Iterator
from dataclasses import fields, is_dataclass

import pytest

from benchstation.domain.guard import AlarmKind, AlarmState
from benchstation.domain.specification import StepKind
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.screens.bench.page import bench_view, with_alarms

TELLS = re.compile(
    r"(?<!not )\b(re)?open (the |it |slowly)|\blet (a little |some )?(more |gas )?in\b"
    r"|\bfill (it|the|up|slowly)\b",
    re.IGNORECASE,
)
WORDS = QuantityFormatter(UnitSystem.METRIC)


def texts(value: object) -> Iterator[str]:
    """Return every text of a view, however deep."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, tuple | list):
        for part in value:
            yield from texts(part)
    elif is_dataclass(value):
        for part in fields(value):
            yield from texts(getattr(value, part.name))


def told(view) -> list[str]:
    """Return what of a moment tells somebody to open or fill."""
    shown = (view.task, view.alarms, view.notes, view.said, view.side_actions, view.switch)
    return [text for text in texts(shown) if TELLS.search(text)]


def act_at_random(bench, chance: random.Random) -> None:
    """Do one thing that a bench, a gauge or a person may do."""
    model, gauge, watch = bench.world.model, bench.world.gauge, bench.session.watch
    match chance.randrange(9):
        case 0:
            gauge.offset_pa = chance.choice((0.0, 5e5, 29e5, 36e5, 39e5, 60e5))
        case 1:
            gauge.sensor_fault = not gauge.sensor_fault
        case 2:
            bench.unplugged ^= {"gauge"}
        case 3:
            model.valve_opening = chance.choice((0.0, 0.3, 1.0))
        case 4:
            gauge.offset_pa = 0.0
            bench.unplugged -= {"gauge"}
            gauge.sensor_fault = False
        case _:
            for alarm in watch.snapshot().alarms:
                if chance.random() < 0.6:
                    watch.acknowledge("kofler", "seen to", alarm.episode)


@pytest.mark.parametrize("kind", [StepKind.CHARGE, StepKind.WEIGH, StepKind.RELEASE])
def test_with_an_open_alarm_nothing_tells_anyone_to_open_or_fill(bench, kind):
    chance, under_alarm, without = random.Random(7), 0, 0
    bench.work_to(kind)
    before = bench_view(bench.session, WORDS)
    for _ in range(80):
        act_at_random(bench, chance)
        bench.run(chance.choice((0.1, 0.3, 1.2)))
        view = bench_view(bench.session, WORDS)
        if not view.alarms:
            without += 1
            continue
        under_alarm += 1
        assert told(view) == []
        assert told(with_alarms(bench.session, before, WORDS)) == []
        states = [alarm.active for alarm in view.alarms]
        assert states == sorted(states, reverse=True), "one that has gone back stands below"
        assert not any("by itself" in text for text in texts(view.alarms))
    assert under_alarm > 20
    assert without > 3


def test_the_words_that_are_looked_for_are_there_without_an_alarm(bench):
    """The look would find what must not be said: the step says it when nothing is wrong."""
    bench.work_to(StepKind.CHARGE)
    view = bench_view(bench.session, WORDS)
    assert view.alarms == ()
    assert told(view)


def exceed(bench):
    bench.world.gauge.offset_pa = 36e5
    bench.run(1.0)


def test_a_warning_that_the_limit_implies_is_folded_into_it(bench):
    bench.work_to(StepKind.CHARGE)
    exceed(bench)
    kinds = {alarm.kind for alarm in bench.session.watch.snapshot().alarms}
    assert kinds >= {AlarmKind.HIGH_LIMIT, AlarmKind.HIGH_WARNING}
    banners = bench_view(bench.session, WORDS).alarms
    assert [b.headline.split("   ")[0] for b in banners if "HIGH" in b.headline] == [
        "HIGH LIMIT and warning"
    ]
    limit = next(b for b in banners if "HIGH LIMIT" in b.headline)
    bench.session.watch.acknowledge("kofler", "regulator crept", limit.id)
    bench.run(0.3)
    left = bench.session.watch.snapshot().alarms
    level = [alarm for alarm in left if not alarm.kind.of_signal]
    assert {alarm.state for alarm in level} == {AlarmState.ACTIVE_ACKNOWLEDGED}


def test_what_has_gone_back_is_outlined_and_stands_below_what_is_active(bench):
    bench.work_to(StepKind.CHARGE)
    exceed(bench)
    bench.world.gauge.offset_pa = 0.0
    bench.run(2.0)
    bench.unplugged.add("gauge")
    bench.run(2.0)
    banners = bench_view(bench.session, WORDS).alarms
    assert banners[0].headline.startswith("SIGNAL LOST")
    assert [b.active for b in banners] == [True] + [False] * (len(banners) - 1)
    assert any(b.headline.startswith("HIGH LIMIT") for b in banners[1:])
    assert all(b.instruction.startswith("It is back to normal.") for b in banners[1:])
