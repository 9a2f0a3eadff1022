"""Recordings: every byte with its time, written at once, read back byte for byte."""

import itertools
import json
import time

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from benchstation.devices.profile import load_profile
from benchstation.driver_api.contract import LineSettings
from benchstation.link import recording as module
from benchstation.link.ports import LinkError
from benchstation.link.raw_log import Direction, RawChunk
from benchstation.link.recording import Recorder, ReplayTransport, read_recording
from benchstation.link.transport import open_transport
from tests.link.conftest import Sender
from tests.waiting import eventually

R, S = Direction.RECEIVED, Direction.SENT
HEAD = json.dumps({"form": "benchstation raw log", "version": 1}) + "\n"


def recorder(path, **words):
    given_words = {"url": "loop://", "profile": "scale-status-first", "begun": "2026-03-02T08:00Z"}
    return Recorder(path, **(given_words | words))


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(
        st.tuples(st.floats(0, 10), st.sampled_from([R, S]), st.binary(min_size=1, max_size=40))
    )
)
def test_what_was_recorded_is_read_back(tmp_path, chunks):
    path = tmp_path / f"{time.perf_counter_ns()}.rec"
    made = recorder(path)
    at, written = 100.0, []
    for after, direction, data in chunks:
        at += after
        made.add(at, direction, data)
        written.append(RawChunk(at, direction, data))
    made.close()
    read = read_recording(path)
    assert (read.url, read.profile, read.begun) == (
        "loop://",
        "scale-status-first",
        "2026-03-02T08:00Z",
    )
    assert [(c.direction, c.data) for c in read.chunks] == [(c.direction, c.data) for c in written]
    for chunk, given_chunk in zip(read.chunks, written, strict=True):
        assert chunk.at == pytest.approx(given_chunk.at - written[0].at, abs=2e-6)
    assert made.last(len(written) or 1) == written


def test_a_chunk_is_in_the_file_at_once(tmp_path):
    """A power cut loses nothing that had come: nothing waits in this program's memory."""
    made = recorder(tmp_path / "one.rec")
    made.add(5.0, R, b"ST,NT")
    assert read_recording(tmp_path / "one.rec").received == b"ST,NT"
    made.close()


def test_a_last_line_cut_short_is_left_out(tmp_path):
    path = tmp_path / "cut.rec"
    path.write_text(HEAD + '[0.0, "r", "4142"]\n[0.1, "r", "43')
    assert read_recording(path).received == b"AB"


def test_a_flood_is_cut_into_lines(tmp_path):
    made = recorder(tmp_path / "flood.rec")
    made.add(0.0, R, bytes(200_000))
    made.close()
    read = read_recording(tmp_path / "flood.rec")
    assert read.received == bytes(200_000)
    assert len(read.chunks) == 4


def test_nothing_is_written_over(tmp_path):
    recorder(tmp_path / "one.rec").close()
    with pytest.raises(LinkError, match="there already"):
        recorder(tmp_path / "one.rec")
    with pytest.raises(LinkError, match="cannot be written"):
        recorder(tmp_path / "no" / "folder.rec")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "no recording"),
        ("{}\n", "no recording"),
        ("[" * 5000, "no recording"),
        ("ST,NT,+00123.45  g\n", "no recording"),
        (HEAD.replace("1}", "2}"), "newer kind"),
        (HEAD + "[]\n", "line 2"),
        (HEAD + "7\n", "line 2"),
        (HEAD + '[0.0, "r", "4142"]\n[0.0, "x", "41"]\n', "line 3"),
        (HEAD + '[1.0, "r", "41"]\n[0.5, "r", "41"]\n', "runs backwards"),
        (HEAD + '[NaN, "r", "41"]\n', "line 2"),
        (HEAD + '[Infinity, "r", "41"]\n', "line 2"),
        (HEAD + '[true, "r", "41"]\n', "line 2"),
        (HEAD + '[0.0, "r", "4"]\n', "line 2"),
        (HEAD + '[0.0, "r", "zz"]\n', "line 2"),
        (HEAD + '[0.0, ["r"], "41"]\n', "line 2"),
        (HEAD + '[0.0, "r", 41]\n', "line 2"),
        (HEAD + f'[0.0, "r", "{"41" * 70_000}"]\n', "too long"),
        (HEAD + "[" * 100_000 + "\n", "line 2"),
        (HEAD + "\xe9\n", "cannot be replayed"),
    ],
    ids=lambda value: repr(value)[:30],
)
def test_a_file_that_is_none_is_refused_in_words(tmp_path, text, words):
    path = tmp_path / "some.rec"
    path.write_text(text, "utf-8")
    with pytest.raises(LinkError, match=words):
        read_recording(path)


def test_a_file_that_is_too_large_or_absent(tmp_path, monkeypatch):
    with pytest.raises(LinkError, match="cannot be replayed"):
        read_recording(tmp_path / "absent.rec")
    recorder(tmp_path / "one.rec").close()
    monkeypatch.setattr(module, "LARGEST_FILE_BYTES", 10)
    with pytest.raises(LinkError, match="too large"):
        read_recording(tmp_path / "one.rec")


class Stepped:
    """A clock that only sleeping moves."""

    def __init__(self):
        self.now = 50.0

    def clock(self):
        return self.now

    def sleep(self, seconds):
        assert seconds >= 0
        self.now += seconds


@pytest.mark.parametrize("speed", [0.5, 1.0, 100.0])
@given(st.lists(st.tuples(st.floats(0, 3), st.binary(min_size=1, max_size=9)), min_size=1))
def test_a_replay_is_byte_for_byte_and_in_time(speed, parts):
    times = list(itertools.accumulate(after for after, _ in parts))
    chunks = [RawChunk(at, R, data) for at, (_, data) in zip(times, parts, strict=True)]
    stepped = Stepped()
    line = ReplayTransport(
        [RawChunk(0.0, S, b"?"), *chunks], speed, 0.1, stepped.clock, stepped.sleep
    )
    came = []
    while not line.ended:
        before = stepped.now
        data = line.read()
        assert stepped.now - before <= 0.1 + 1e-9
        if data:
            came.append((stepped.now - 50.0, data))
    assert [data for _, data in came] == [chunk.data for chunk in chunks]
    for (at, _), chunk in zip(came, chunks, strict=True):
        assert at == pytest.approx(chunk.at / speed, abs=1e-6)
    line.write(b"thrown away")
    assert line.read() == b""
    line.close()


def test_a_recorded_scale_reads_the_same_again(tmp_path, serve, read):
    """Recorded from a real line, replayed a hundred times as fast through the same reader."""
    path = tmp_path / "scale.rec"
    log = recorder(path)
    reader, watch = read(serve(Sender()).url, raw_log=log)
    eventually(lambda: len(watch.readings) >= 20)
    reader.stop()
    log.close()
    replayed, again = read(f"replay:{path}?speed=100")
    eventually(lambda: len(again.items) == len(watch.items))
    replayed.stop()
    assert [(type(i), i.raw) for i in again.items] == [(type(i), i.raw) for i in watch.items]
    received = [c.data for c in replayed.raw_log.last(10_000) if c.direction is R]
    assert b"".join(received) == read_recording(path).received


@pytest.mark.parametrize(
    "query", ["?speed=0", "?speed=x", "?speed=-1", "?speed=nan", "?speed=1e9", "?colour=1"]
)
def test_a_speed_that_is_none(tmp_path, query):
    recorder(tmp_path / "one.rec").close()
    with pytest.raises(LinkError, match="speed=NUMBER"):
        open_transport(f"replay:{tmp_path / 'one.rec'}{query}", LineSettings())


def test_a_polled_device_is_replayed_as_well(tmp_path, serve_bench, read):
    frame = b"W S     123.45 g\r\n"
    path = tmp_path / "polled.rec"
    log = recorder(path, profile="scale-request-reply")
    host = serve_bench(Sender(b"", answers={b"W\r\n": frame}))
    words = {"profile": "scale-request-reply", "poll_interval_s": 0.01}
    reader, watch = read(host.url, raw_log=log, **words)
    eventually(lambda: len(watch.readings) >= 10)
    reader.stop()
    log.close()
    assert any(c.direction is S for c in read_recording(path).chunks)
    _, again = read(f"replay:{path}?speed=10", **words)
    eventually(lambda: len(again.readings) == len(watch.readings))
    assert load_profile("scale-request-reply").make_driver().poll() == b"W\r\n"
