"""The reader thread: it reads, comes back by itself, words what is wrong, never dies unseen."""

import logging
import threading
import time

import pytest

from benchstation.devices.profile import load_profile
from benchstation.driver_api.errors import StationError, UnsupportedCommandError
from benchstation.driver_api.reading import FaultKind, Reply
from benchstation.link import reader as reader_module
from benchstation.link.ports import LinkError
from benchstation.link.raw_log import Direction
from benchstation.link.reader import Reader
from benchstation.link.statistics import LinkState
from tests.link.conftest import GOOD, Sender
from tests.waiting import eventually, stays

AT_ONCE_S = 0.5
REPLY_ANSWERS = {b"W\r\n": b"W S     123.45 g\r\n", b"T\r\n": b"T S\r\n"}


def test_a_reading_arrives(serve, read):
    reader, watch = read(serve(Sender()).url)
    eventually(lambda: len(watch.readings) > 5)
    assert {round(reading.value, 9) for reading in watch.readings} == {0.12345}
    assert reader.state is LinkState.LIVE
    assert watch.states[0] == (LinkState.SILENT, "connected, no reading yet")
    assert watch.states[1:] == [(LinkState.LIVE, "")]
    assert reader.statistics.connects == 1
    assert reader.statistics.received_bytes >= 6 * len(GOOD)


def test_the_plug_is_pulled_and_put_back(serve, read):
    host = serve(Sender())
    reader, watch = read(host.url)
    eventually(lambda: reader.state is LinkState.LIVE)
    host.unplug()
    assert eventually(lambda: reader.state is LinkState.LOST) < AT_ONCE_S
    assert "the line was lost and is tried again" in watch.states[2][1]
    count = len(watch.readings)
    stays(lambda: len(watch.readings) == count, 0.2)
    host.replug()
    assert eventually(lambda: reader.state is LinkState.LIVE) < 2.0
    eventually(lambda: len(watch.readings) > count)
    assert reader.statistics.connects == 2


def test_why_it_does_not_come_back_is_said(serve_pty, read):
    host = serve_pty(Sender())
    reader, watch = read(host.url)
    eventually(lambda: reader.state is LinkState.LIVE)
    host.unplug()
    eventually(lambda: "there is no such port" in watch.words)

    def told():
        return [words for state, words in watch.states if state is LinkState.LOST]

    stays(lambda: len(told()) == 2, 0.3, "the same reason is said once")


def test_half_a_frame_before_the_plug_was_pulled_is_forgotten(serve_bench, read):
    device = Sender(frame=GOOD[:9], rate_hz=1.0)
    host = serve_bench(device)
    reader, watch = read(host.url)
    eventually(lambda: reader.statistics.received_bytes == 9)
    host.unplug()
    eventually(lambda: reader.state is LinkState.LOST)
    device.frame, device.due = GOOD, None
    host.replug()
    eventually(lambda: watch.readings)
    assert watch.faults == []


# --- what goes wrong is worded -------------------------------------------------------------------


def test_another_program_has_the_port(serve_pty, read):
    host = serve_pty(Sender())
    first, _ = read(host.url)
    eventually(lambda: first.state is LinkState.LIVE)
    second, watch = read(host.url)
    eventually(lambda: second.state is LinkState.LOST)
    assert "another program uses the port" in watch.words
    assert "Close the other program" in watch.words
    first.stop()
    assert eventually(lambda: second.state is LinkState.LIVE) < 2.0


def test_bytes_that_never_match_are_shown(serve, read, monkeypatch, caplog):
    """What a wrong baud rate or another profile looks like."""
    monkeypatch.setattr(reader_module, "NO_MATCH_AFTER_S", 0.3)
    reader, watch = read(serve(Sender(b"\x9e\xe6\x00\xf8\n")).url)
    with caplog.at_level(logging.WARNING):
        eventually(lambda: "never a whole frame" in watch.words)
    assert reader.state is LinkState.SILENT
    assert r"\x9e\xe6\x00\xf8\n" in watch.words
    assert "check the profile and the line settings" in watch.words
    assert watch.readings == []
    assert watch.faults
    stays(lambda: sum("never a whole frame" in words for _, words in watch.states) == 1, 0.4)


def test_a_device_that_says_nothing(serve_bench, read, monkeypatch):
    monkeypatch.setattr(reader_module, "NO_MATCH_AFTER_S", 0.3)
    device = Sender(b"")
    reader, watch = read(serve_bench(device).url)
    eventually(lambda: "the instrument sends nothing" in watch.words)
    assert reader.state is LinkState.SILENT
    device.frame = GOOD
    eventually(lambda: reader.state is LinkState.LIVE)
    device.frame = b""
    eventually(lambda: "the instrument sends nothing" in watch.words)
    assert reader.state is LinkState.SILENT


def test_an_overload_is_no_question_of_line_settings(serve_bench, read, monkeypatch):
    monkeypatch.setattr(reader_module, "NO_MATCH_AFTER_S", 0.2)
    reader, watch = read(serve_bench(Sender(b"OL,GS,+99999.99  g\r\n")).url)
    eventually(lambda: len(watch.faults) > 40)
    assert {fault.kind for fault in watch.faults} == {FaultKind.OVER_RANGE}
    assert reader.state is LinkState.LIVE
    assert reader.statistics.faults == len(watch.faults)


# --- asking --------------------------------------------------------------------------------------


@pytest.mark.parametrize("rate_hz", [8.0, 20.0])
def test_a_device_is_asked_at_its_rate(serve, read, rate_hz):
    device = Sender(b"", answers=REPLY_ANSWERS)
    _, watch = read(serve(device).url, "scale-request-reply", poll_interval_s=1.0 / rate_hz)
    eventually(lambda: len(watch.readings) > 3 + 0.1 * rate_hz)
    times = [at for at, _ in device.asked]
    rate = (len(times) - 1) / (times[-1] - times[0])
    assert rate == pytest.approx(rate_hz, rel=0.2)


@pytest.mark.parametrize("interval_s", [0.05, 0.4])
def test_no_answer_is_a_fault_once_a_request(serve_bench, read, monkeypatch, interval_s):
    monkeypatch.setattr(reader_module, "ANSWER_WAIT_S", 0.1)
    device = Sender(b"", answers={})
    _, watch = read(serve_bench(device).url, "scale-request-reply", poll_interval_s=interval_s)
    eventually(lambda: len(device.asked) == 3)
    assert {fault.kind for fault in watch.faults} == {FaultKind.NO_ANSWER}
    assert len(watch.faults) == 2


def test_half_an_answer_is_not_joined_to_the_next(serve_bench, read, monkeypatch):
    monkeypatch.setattr(reader_module, "ANSWER_WAIT_S", 0.2)
    device = Sender(b"", answers={b"W\r\n": b"W S    1"})
    _, watch = read(serve_bench(device).url, "scale-request-reply")
    eventually(lambda: watch.faults)
    device.answers = REPLY_ANSWERS
    eventually(lambda: watch.readings)
    assert {round(reading.value, 9) for reading in watch.readings} == {0.12345}
    assert {fault.kind for fault in watch.faults} == {FaultKind.NO_ANSWER}


# --- commands ------------------------------------------------------------------------------------


def test_tare_is_sent_and_answered(serve, read):
    device = Sender(b"", answers=REPLY_ANSWERS)
    reader, watch = read(serve(device).url, "scale-request-reply")
    eventually(lambda: watch.readings)
    reader.send("tare")
    eventually(lambda: any(isinstance(item, Reply) for item in watch.items))
    assert b"T\r\n" in [data for _, data in device.asked]
    sent = [c.data for c in reader.raw_log.between(0, 1e12) if c.direction is Direction.SENT]
    assert b"T\r\n" in sent


def test_a_command_the_device_lacks(serve_bench, read):
    reader, _watch = read(serve_bench(Sender()).url, "gauge-value-unit")
    with pytest.raises(UnsupportedCommandError, match="tare"):
        reader.send("tare")


def test_a_command_is_not_kept_for_later(serve_bench, read):
    """A tare pressed while the plug is out must not come when nobody expects it."""
    device = Sender()
    host = serve_bench(device)
    reader, _watch = read(host.url)
    eventually(lambda: reader.state is LinkState.LIVE)
    host.unplug()
    eventually(lambda: reader.state is LinkState.LOST)
    with pytest.raises(LinkError, match="nothing was sent"):
        reader.send("tare")
    host.replug()
    eventually(lambda: reader.state is LinkState.LIVE)
    stays(lambda: device.asked == [], 0.1)


# --- the end -------------------------------------------------------------------------------------


def test_a_stop_is_quick_wherever_it_stands(serve_pty, read):
    for stage in (LinkState.LIVE, LinkState.LOST, LinkState.SILENT):
        host = serve_pty(Sender(b"" if stage is LinkState.SILENT else GOOD))
        if stage is LinkState.LOST:
            host.unplug()
        reader, _ = read(host.url)
        eventually(lambda reader=reader, stage=stage: reader.state is stage)
        start = time.perf_counter()
        reader.stop()
        assert time.perf_counter() - start < 1.0
        assert not reader.thread.is_alive()


def test_a_stop_before_the_start():
    reader = Reader(
        "scale",
        load_profile("scale-status-first").make_driver(),
        lambda: None,
        clock=time.perf_counter,
        on_item=print,
        on_state=print,
    )
    reader.stop()


def test_a_stop_that_does_not_succeed_is_said(read):
    hold = threading.Event()

    def connect():
        hold.wait(5.0)
        raise StationError("too late.")

    reader, _ = read("", connect=connect)
    with pytest.raises(TimeoutError, match="does not end"):
        reader.stop(0.05)
    hold.set()


class Broken(Exception):
    """Stands for any mistake of ours."""


def fail(*_):
    raise Broken("a mistake of ours")


def failing(method):
    driver = load_profile("scale-request-reply").make_driver()
    setattr(driver, method, fail)
    return driver


@pytest.mark.parametrize(
    "words",
    [
        {"on_item": fail},
        {"connect": fail},
        {"driver": lambda: failing("feed"), "profile": "scale-request-reply"},
        {"driver": lambda: failing("poll"), "profile": "scale-request-reply"},
        {"driver": lambda: failing("reset"), "profile": "scale-request-reply"},
    ],
    ids=["on_item", "connect", "feed", "poll", "reset"],
)
def test_a_mistake_of_ours_is_seen(serve_bench, read, caplog, words):
    if "driver" in words:
        words = words | {"driver": words["driver"]()}
    reader, watch = read(serve_bench(Sender(answers=REPLY_ANSWERS)).url, **words)
    eventually(lambda: reader.state is LinkState.FAILED)
    eventually(lambda: not reader.thread.is_alive())
    state, text = watch.states[-1]
    assert state is LinkState.FAILED
    assert "a mistake of ours" in text
    assert "a mistake of ours" in reader.statistics.last_error
    assert [r.exc_info[0] for r in caplog.records if r.levelno == logging.ERROR] == [Broken]


def test_a_mistake_while_no_answer_comes_is_seen(serve_bench, read, monkeypatch):
    monkeypatch.setattr(reader_module, "ANSWER_WAIT_S", 0.05)
    reader, watch = read(serve_bench(Sender(b"")).url, profile="scale-request-reply", on_item=fail)
    eventually(lambda: reader.state is LinkState.FAILED)
    assert watch.states[-1][0] is LinkState.FAILED


def test_a_mistake_where_the_state_is_told_is_in_the_log(serve_bench, read, caplog):
    reader, _ = read(serve_bench(Sender()).url, on_state=fail)
    eventually(lambda: not reader.thread.is_alive())
    assert reader.state is LinkState.FAILED
    assert "nobody could be told" in caplog.text


def test_a_failed_reader_lets_go_of_its_port(serve_bench, read):
    host = serve_bench(Sender())
    failed, _ = read(host.url, on_item=fail)
    eventually(lambda: not failed.thread.is_alive())
    second, _ = read(host.url)
    eventually(lambda: second.state is LinkState.LIVE)


# --- time and bytes ------------------------------------------------------------------------------


def test_readings_are_dated_by_the_clock_given(serve_bench, read):
    before = time.perf_counter()
    _, watch = read(serve_bench(Sender()).url)
    eventually(lambda: len(watch.readings) > 3)
    times = [reading.at for reading in watch.readings]
    assert before <= times[0] <= times[-1] <= time.perf_counter()
    assert times == sorted(times)


def test_every_byte_is_in_the_raw_log(serve, read):
    reader, watch = read(serve(Sender()).url)
    eventually(lambda: len(watch.readings) > 10)
    reader.stop()
    chunks = reader.raw_log.between(0.0, 1e12)
    assert b"".join(chunk.data for chunk in chunks).count(GOOD) == len(watch.readings)
    last = watch.readings[-1]
    around = reader.raw_log.between(last.at - 0.05, last.at)
    assert last.raw in b"".join(chunk.data for chunk in around)


def test_a_flood_of_noise_is_read_past(serve_bench, read):
    device = Sender(b"\xff" * 4000)
    reader, watch = read(serve_bench(device).url)
    eventually(lambda: reader.statistics.received_bytes > 50_000)
    device.frame = b"\r\n" + GOOD
    eventually(lambda: watch.readings)
