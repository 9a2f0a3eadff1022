"""A device that comes and goes ten thousand times: each break is a fact, and nothing is left."""

import logging
import threading
import time

import pytest

from benchstation.bench.capture.weighing import Phase
from benchstation.devices.instrument import BreakKind, Instrument
from benchstation.devices.profile import load_profile
from benchstation.domain.events import AlarmChanged, AlarmEpisodeRecorded, TareLost
from benchstation.domain.guard import AlarmKind, AlarmState
from benchstation.domain.specification import StepKind
from benchstation.link import reader as reader_module
from benchstation.link.raw_log import RawLog
from benchstation.link.reader import Reader
from benchstation.link.statistics import LinkState
from benchstation.link.transport import READ_WAIT_S
from benchstation.metrology.calibration import LinearCalibration
from tests.long_life.counting import counted
from tests.stepped_bench import make_bench

FRAME = b"ST,GS,+00123.45  g\r\n"
TYPES, MEMORY_KB = 60, 4096
"""Types of Python objects may wander by so many objects: the last readings kept, the log's line."""
PLUGS = [200, pytest.param(10_000, marks=[pytest.mark.soak, pytest.mark.timeout(1800)])]
EPISODES = [12, pytest.param(1_000, marks=[pytest.mark.soak, pytest.mark.timeout(1800)])]


class Cable:
    """A line that is there while it is plugged in; each plug brings one frame.

    Reader and test take turns, so nothing waits for a clock.
    """

    def __init__(self, instrument: Instrument) -> None:
        self._instrument = instrument
        self._pulled, self.lost = threading.Semaphore(0), threading.Semaphore(0)
        self._frames: list[bytes] = []
        self.opened = self.closed = 0

    def connect(self) -> "Cable":
        self.opened += 1
        self._frames = [FRAME]
        return self

    def read(self) -> bytes:
        if self._frames:
            return self._frames.pop()
        if not self._pulled.acquire(timeout=READ_WAIT_S):
            return b""
        raise OSError(5, "Input/output error")

    def close(self) -> None:
        self.closed += 1

    def told(self, state: LinkState, words: str) -> None:
        """Hand the line's state to the instrument, and let the test go on when it is lost."""
        self._instrument._on_state(state, words)
        if state is LinkState.LOST:
            self.lost.release()

    def pull(self) -> None:
        """Pull the plug and wait until the reader has noticed."""
        self._pulled.release()
        assert self.lost.acquire(timeout=60.0)


@pytest.mark.parametrize("plugs", PLUGS)
def test_each_break_is_noted_and_nothing_of_a_plug_stays(monkeypatch, caplog, plugs):
    monkeypatch.setattr(reader_module, "FIRST_BACK_OFF_S", 0.0)
    caplog.set_level(logging.CRITICAL, "benchstation")  # kept log lines would count as objects
    scale = Instrument(
        "scale", "Scale", load_profile("scale-status-first"), LinearCalibration(), clock=time.time
    )
    cable = Cable(scale)
    reader = Reader(
        "scale",
        scale.profile.make_driver(),
        cable.connect,
        clock=time.time,
        on_item=scale.ingest,
        on_state=cable.told,
        raw_log=RawLog(most_bytes=200),  # full from the beginning
    )
    breaks = readings = 0

    def pull(times: int):
        nonlocal breaks, readings
        for _ in range(times):
            cable.pull()
            broken = scale.take_break()
            breaks += broken is not None and broken.kind is BreakKind.LINE_LOST
            readings += len(scale.drain())
        return counted()

    reader.start()
    first = pull(plugs // 2)
    last = pull(plugs)
    reader.stop()
    done = plugs + plugs // 2
    assert breaks == done
    # The reader may have come back once more before the end.
    assert readings + len(scale.drain()) - done in (0, 1)
    assert reader.statistics.connects - done in (0, 1)
    assert cable.opened == cable.closed
    assert last.more_than(first) == {}
    assert last.grown_types(first, TYPES) == {}
    assert last.rss_kb < first.rss_kb + MEMORY_KB


@pytest.mark.parametrize("plugs", EPISODES)
def test_each_loss_of_the_gauge_is_an_episode_on_record_and_none_is_open_at_the_end(
    tmp_path, plugs
):
    """Every second one is acknowledged while the plug is out, the others when it is back."""
    bench = make_bench(tmp_path)
    for line in bench.lines.values():
        line._instrument.raw_log._most = 200  # full from the beginning
    bench.sign_in()
    watch, store = bench.session.watch, bench.store

    def acknowledge() -> None:
        for alarm in watch.snapshot().alarms:
            bench.session.act("acknowledge", {"episode": alarm.episode, "reason": "plug"})

    def pull(times: int):
        for count in range(times):
            bench.unplugged.add("gauge")
            bench.session.gauge.instrument.report_broken("the line was lost")
            bench.run(1.5)
            assert [a.kind for a in watch.snapshot().alarms] == [AlarmKind.SIGNAL_LOST]
            if count % 2:
                acknowledge()
            bench.unplugged.clear()
            bench.run(1.5)
            acknowledge()
            assert watch.snapshot().alarms == ()
        bench.run(0.1)
        return counted()

    first = pull(plugs // 2)
    last = pull(plugs)
    done = plugs + plugs // 2
    raised = [
        e.event.episode
        for e in store.entries(kind=AlarmChanged.kind)
        if e.event.state == AlarmState.ACTIVE_UNACKNOWLEDGED.value
    ]
    assert len(raised) == len(set(raised)) == done
    ended = [e.event.episode for e in store.entries(kind=AlarmEpisodeRecorded.kind)]
    assert ended == raised
    assert not watch.snapshot().capture_locked
    assert last.more_than(first) == {}
    assert last.grown_types(first, TYPES) == {}
    assert store.verify().ok
    store.close()


@pytest.mark.parametrize("plugs", EPISODES)
def test_each_tare_that_a_plug_takes_away_is_on_record(tmp_path, plugs):
    bench = make_bench(tmp_path)
    bench.work_to(StepKind.WEIGH)
    bench.world.model.put_on_pan("body")
    bench.run(3)
    for done in range(plugs):
        bench.session.act("tare", {})
        bench.until(lambda: bench.session.work.weighing.phase is Phase.POURING)
        bench.unplugged.add("scale")
        bench.session.scale.instrument.report_broken("the line was lost")
        bench.run(0.2)
        bench.unplugged.clear()
        bench.run(0.5)
        assert len(bench.store.entries(kind=TareLost.kind)) == done + 1
        assert bench.session.work.weighing.phase is Phase.NEED_TARE
    bench.store.close()
