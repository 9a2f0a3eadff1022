"""The ring on disk: whole recordings, the oldest deleted, and no reading lost to a full disk."""

import itertools
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from benchstation.link import recording
from benchstation.link.raw_log import Direction
from benchstation.link.raw_ring import RawRing
from benchstation.link.recording import read_recording
from benchstation.link.statistics import LinkState
from tests.link.conftest import GOOD, Sender
from tests.waiting import eventually

R = Direction.RECEIVED


@pytest.fixture
def ring(tmp_path):
    made = []
    seconds = itertools.count()

    def utc():
        return datetime(2026, 3, 2, 8, tzinfo=UTC) + timedelta(seconds=next(seconds))

    def start(folder=tmp_path / "raw", **words):
        made.append(RawRing(folder, "scale", utc, **words))
        return made[-1]

    yield start
    for one in made:
        one.close()


def test_the_last_files_hold_the_last_bytes(ring):
    made = ring(files=3, most_bytes=100, url="/dev/p1", profile="scale-status-first")
    for step in range(100):
        made.add(float(step), R, b"%020d" % step)
    assert len(made.paths()) == 3
    kept = [read_recording(path) for path in made.paths()]
    data = b"".join(one.received for one in kept)
    assert data == b"".join(b"%020d" % step for step in range(85, 100))
    assert {(one.url, one.profile) for one in kept} == {("/dev/p1", "scale-status-first")}
    assert [one.begun for one in kept] == sorted(one.begun for one in kept)
    assert made.tail(20) == b"%020d" % 99


def test_another_instruments_files_are_left_alone(ring, tmp_path):
    (tmp_path / "raw").mkdir()
    other = tmp_path / "raw" / "gauge-20260302T080000000000.rec"
    other.write_text("theirs")
    made = ring(files=1, most_bytes=1)
    for step in range(5):
        made.add(float(step), R, b"x")
    assert other.read_text() == "theirs"
    assert len(made.paths()) == 1


def test_a_disk_that_cannot_be_written_is_said_once_and_harms_nothing(
    ring, tmp_path, caplog, monkeypatch
):
    made = ring()
    made.add(0.0, R, b"before")

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(recording.Recorder, "add", full)
    made.add(1.0, R, b"after")
    made.add(2.0, R, b"later")
    assert made.failed
    assert made.tail(10) == b"afterlater"
    assert caplog.text.count("no longer written") == 1


def test_a_folder_that_cannot_be_made(ring, tmp_path):
    (tmp_path / "file").write_text("")
    made = ring(tmp_path / "file" / "raw")
    made.add(0.0, R, b"kept in memory")
    assert made.failed
    assert made.tail() == b"kept in memory"


def test_a_name_that_begins_like_anothers_costs_the_other_no_file(tmp_path):
    rings = [
        RawRing(tmp_path, name, lambda: datetime.now(UTC), files=2, most_bytes=1)
        for name in ("scale-1", "scale-1-b", "scale")
    ]
    for made in rings:
        for n in range(4):
            made.add(float(n), R, b"x")
    assert [len(made.paths()) for made in rings] == [2, 2, 2]
    assert {path for made in rings for path in made.paths()} == set(tmp_path.iterdir())
    for made in rings:
        made.close()


def test_a_ring_that_holds_nothing_is_refused(tmp_path):
    for words in ({"files": 0}, {"most_bytes": 0}):
        with pytest.raises(ValueError):
            RawRing(Path(tmp_path), "scale", lambda: datetime.now(UTC), **words)


def test_a_line_is_kept_on_disk(ring, serve, read):
    made = ring(files=4, most_bytes=200)
    reader, watch = read(serve(Sender(rate_hz=300.0)).url, raw_log=made)
    eventually(lambda: len(watch.readings) >= 60)
    reader.stop()
    made.close()
    assert reader.state is LinkState.LIVE
    data = b"".join(read_recording(path).received for path in made.paths())
    assert len(data) > 400
    assert GOOD in data
    assert made.tail(100).endswith(data[-20:])
