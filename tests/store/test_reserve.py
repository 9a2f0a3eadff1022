"""What waits for the journal is kept in room that was taken before the disk was full."""

from datetime import UTC, datetime, timedelta

import pytest

from benchstation.domain.events import AlarmChanged
from benchstation.store.reserve import SIZE_BYTES, Reserve, Unwritten

AT = datetime(2026, 3, 3, 9, 0, 0, 250_000, tzinfo=UTC)


def change(number: int = 1) -> Unwritten:
    event = AlarmChanged(
        "u1", f"e{number}", "high limit", "active, unacknowledged", 36e5, 36e5, 35e5, "hose"
    )
    return Unwritten(event, "kofler", AT + timedelta(seconds=number))


@pytest.fixture
def path(tmp_path):
    found = tmp_path / "rebuilds.waiting"
    Reserve(found).take_room()
    return found


def test_what_is_kept_is_read_by_the_next_program_and_forgotten_once_it_is_written(path):
    assert path.stat().st_size == SIZE_BYTES
    Reserve(path).keep([change(1), change(2)])
    assert path.stat().st_size == SIZE_BYTES
    later = Reserve(path)
    later.take_room()
    assert later.read() == [change(1), change(2)]
    later.clear()
    assert Reserve(path).read() == []
    assert path.stat().st_size == SIZE_BYTES


def test_only_as_much_is_kept_as_there_is_room_for_and_the_earliest(path):
    Reserve(path).keep([change(n) for n in range(2000)])
    assert path.stat().st_size == SIZE_BYTES
    found = Reserve(path).read()
    assert found == [change(n) for n in range(len(found))]
    assert len(found) > 100


@pytest.mark.parametrize("spoilt", [b"", b"\0" * 100, b"nothing that was written here\n{}"])
def test_a_file_that_is_not_whole_says_nothing(path, spoilt):
    path.write_bytes(spoilt)
    assert Reserve(path).read() == []


def test_a_damaged_byte_is_noticed(path):
    Reserve(path).keep([change()])
    text = bytearray(path.read_bytes())
    text[120] ^= 1
    path.write_bytes(text)
    assert Reserve(path).read() == []


def test_where_nothing_can_be_kept_nothing_is_raised(tmp_path):
    reserve = Reserve(tmp_path / "no such folder" / "x.waiting")
    reserve.take_room()
    reserve.keep([change()])
    assert reserve.read() == []
