"""What a cable, a device and another program can do to a line, over the real transport."""

import contextlib
import gc
import logging
import os
import threading
import time
from itertools import pairwise

import pytest

from benchstation.driver_api.reading import FaultKind
from benchstation.link import reader as reader_module
from benchstation.link.raw_log import RawLog
from benchstation.link.statistics import LinkState
from sample_devices.bench_model import BenchModel
from sample_devices.faults import FaultRates, FaultyDevice
from sample_devices.scale import VirtualScale
from tests.link.conftest import GOOD, Sender, Watch, pty_only
from tests.waiting import eventually, let_pass

CHECKED = b"\x02S+00123.45 g\x03#"
WEIGHT = 0.12345


def values(watch):
    return {round(reading.value, 9) for reading in watch.readings}


# --- damage --------------------------------------------------------------------------------------

DAMAGE = {
    "noise": FaultRates(noise=0.5),
    "extra": FaultRates(extra=0.5),
    "truncated": FaultRates(truncated=0.5),
    "merged": FaultRates(merged=0.5),
    "lost": FaultRates(lost=0.5),
    "all": FaultRates(0.1, 0.1, 0.1, 0.1, 0.1),
}


@pytest.mark.parametrize("kind", DAMAGE)
def test_a_checked_line_gives_no_wrong_reading(serve, read, kind):
    """Every second frame is spoilt; what is read is right, and the line stays alive."""
    device = FaultyDevice(Sender(CHECKED, rate_hz=2000.0), 3, DAMAGE[kind], end=b"#")
    reader, watch = read(serve(device).url, "scale-xor-after-end")
    eventually(lambda: len(watch.readings) >= 60)
    assert values(watch) == {WEIGHT}
    assert device.spoilt > 20
    assert reader.state is LinkState.LIVE


@pytest.mark.parametrize("kind", ["extra", "truncated", "merged", "lost"])
def test_a_line_of_fixed_columns_gives_no_wrong_reading_for_lost_or_added_bytes(serve, read, kind):
    device = FaultyDevice(Sender(rate_hz=2000.0), 4, DAMAGE[kind])
    reader, watch = read(serve(device).url)
    eventually(lambda: len(watch.readings) >= 60)
    assert values(watch) == {WEIGHT}
    assert reader.state is LinkState.LIVE


def test_noise_on_a_line_without_a_checksum_is_mostly_refused(serve_bench, read):
    """One to four bytes of every frame are overwritten: few pass, and they do not agree."""
    device = FaultyDevice(Sender(rate_hz=2000.0), 5, FaultRates(noise=1.0))
    _, watch = read(serve_bench(device).url)
    eventually(lambda: len(watch.items) >= 1500, within_s=10.0)
    wrong = [r.value for r in watch.readings if round(r.value, 9) != WEIGHT]
    assert len(wrong) < 0.03 * len(watch.items)
    assert len({a for a, b in pairwise(wrong) if a == b}) <= 1


def test_a_device_reboots(serve, read):
    """It greets, is silent for a while, and begins with a frame cut in two: nothing is made up."""
    device = Sender()
    reader, watch = read(serve(device).url)
    eventually(lambda: len(watch.readings) > 5)
    device.frame = b""
    eventually(lambda: time.perf_counter() - watch.readings[-1].at > 0.15)
    device.frame, before = b"BOOT 2.07\r\nself test ... ok\r\n+00123.45  g\r\n", len(watch.readings)
    eventually(lambda: len(watch.faults) >= 3)
    device.frame = GOOD
    eventually(lambda: len(watch.readings) > before + 5)
    assert values(watch) == {WEIGHT}
    assert reader.state is LinkState.LIVE
    assert reader.statistics.connects == 1
    assert reader.statistics.longest_gap_s > 0.14


def test_a_frozen_value_shows_in_the_figures(serve_bench, read):
    scale = VirtualScale(BenchModel(), rate_hz=100.0)
    reader, watch = read(serve_bench(scale).url)
    eventually(lambda: len({reading.value for reading in watch.readings}) > 2)
    scale.frozen = True
    eventually(lambda: reader.statistics.same_value_s > 0.4)
    assert reader.state is LinkState.LIVE


# --- other programs ------------------------------------------------------------------------------


@pty_only
def test_a_program_that_steals_bytes_spoils_frames_and_values_not(serve_pty, read):
    """An exclusive port keeps polite programs out; one that does not ask takes bytes away."""
    host = serve_pty(Sender(rate_hz=200.0))
    reader, watch = read(host.url)
    eventually(lambda: len(watch.readings) > 5)
    thief = os.open(host.url, os.O_RDONLY | os.O_NOCTTY | os.O_NONBLOCK)
    stolen = []

    def noticed() -> bool:
        return bool(watch.faults) or "multiple access" in " ".join(w for _, w in watch.states)

    def steal() -> bool:
        # A few bytes at a time: whoever takes whole frames spoils none.
        with contextlib.suppress(BlockingIOError):
            stolen.append(os.read(thief, 3))
        return bool(stolen) and noticed()

    eventually(steal)
    os.close(thief)
    count = len(watch.readings)
    eventually(lambda: len(watch.readings) > count + 5)
    assert stolen
    assert noticed()
    assert values(watch) == {WEIGHT}
    assert reader.state is LinkState.LIVE


# --- a program that did not run -------------------------------------------------------------------


class Telling(Sender):
    """A device that sends the time as its weight, in centigrams."""

    def output(self, t):
        self.frame = b"ST,NT,+%08.2f  g\r\n" % (t % 90_000)
        return super().output(t)


@pytest.mark.parametrize("rate_hz", [10.0, 100.0])
def test_what_waited_while_the_program_stood_still_is_no_reading_of_now(
    serve, read, caplog, rate_hz
):
    """A stopped process finds the past in the system's buffers; nobody can date it any more."""
    watch, stood = Watch(), []

    def stand_still(item):
        watch.on_item(item)
        if len(watch.readings) == 5 and not stood:
            stood.append(time.perf_counter())
            let_pass(reader_module.STALLED_S + 0.4)

    with caplog.at_level(logging.WARNING):
        _, _ = read(serve(Telling(rate_hz=rate_hz)).url, watch=watch, on_item=stand_still)
        eventually(lambda: len(watch.readings) > 15, within_s=6.0)
    late = [r.at - r.value * 1e3 for r in watch.readings if r.at > stood[0] + 0.5]
    assert len(late) > 5
    assert max(late) < 0.3
    assert sum("what waited is left out" in r.message for r in caplog.records) == 1


# --- plugs ---------------------------------------------------------------------------------------


def resident_kb():
    with open("/proc/self/status") as status:
        return next(int(line.split()[1]) for line in status if line.startswith("VmRSS"))


@pty_only
@pytest.mark.skipif(not os.path.exists("/proc/self/fd"), reason="counts are read from /proc")
@pytest.mark.parametrize(
    "plugs",
    [20, pytest.param(200, marks=[pytest.mark.soak, pytest.mark.timeout(600)])],
)
def test_plugs_leave_nothing_behind(serve_pty, read, monkeypatch, caplog, plugs):
    """Unplug and replug: threads, file descriptors, objects and memory stay where they were."""
    monkeypatch.setattr(reader_module, "FIRST_BACK_OFF_S", 0.01)
    caplog.set_level(logging.CRITICAL, "benchstation")  # kept log lines would count as objects
    host = serve_pty(Sender())
    counted = Watch()
    counted.on_item = lambda item: counted.items.append(1)
    reader, _ = read(host.url, watch=counted, raw_log=RawLog(most_bytes=200))
    eventually(lambda: reader.state is LinkState.LIVE)

    def plug(times):
        for _ in range(times):
            host.unplug()
            eventually(lambda: reader.state is LinkState.LOST)
            host.replug()
            assert eventually(lambda: reader.state is LinkState.LIVE, within_s=4.0) < 2.0
        counted.items.clear()
        counted.states.clear()
        gc.collect()
        handles = len(os.listdir("/proc/self/fd"))
        return threading.active_count(), handles, len(gc.get_objects()), resident_kb()

    threads, handles, objects, memory = plug(5)
    after = plug(plugs)
    assert after[:2] == (threads, handles)
    assert after[2] < objects + 200
    assert after[3] < memory + 4096
    assert reader.statistics.connects == plugs + 6


# --- time ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("jump_s", [3600.0, -3600.0])
def test_a_clock_that_jumps_stops_nothing(serve, read, jump_s):
    """The clock that dates readings may jump; waits, timeouts and rates are on another."""
    offset = [0.0]
    host = serve(Sender(b"", answers={b"W\r\n": b"W S     123.45 g\r\n"}))
    reader, watch = read(
        host.url,
        "scale-request-reply",
        clock=lambda: time.perf_counter() + offset[0],
        poll_interval_s=0.02,
    )
    eventually(lambda: len(watch.readings) > 5)
    offset[0], count = jump_s, len(watch.readings)
    eventually(lambda: len(watch.readings) > count + 10)
    assert abs(watch.readings[-1].at - time.perf_counter() - jump_s) < 1.0
    assert reader.state is LinkState.LIVE
    assert not [f for f in watch.faults if f.kind is FaultKind.NO_ANSWER]
    assert 10 < reader.statistics.rate_hz < 60
