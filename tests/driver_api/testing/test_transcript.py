"""Transcripts: read strictly, and leftovers in either direction fail."""

import pytest

from benchstation.driver_api.errors import UnsupportedCommandError
from benchstation.driver_api.reading import Fault, FaultKind, Reading, Reply
from benchstation.driver_api.testing import (
    TranscriptError,
    parse_transcript,
    read_transcripts,
    replay,
)

READING = Reading("mass", 0.12345, 0.0, "g", b"raw", True, 1e-5, True)
GIVEN = {
    b"good": [READING],
    b"two": [READING, READING],
    b"bad": [Fault(FaultKind.BAD_FRAME, 0.0, b"bad", "why")],
    b"done": [Reply("tare", True, 0.0, b"done")],
    b"": [],
}


class Scripted:
    """Stands for a driver whose answers are known."""

    def __init__(self):
        self.resets = 0

    def feed(self, data, at):
        return GIVEN[data]

    def poll(self):
        return b"W\r\n"

    def command(self, name):
        if name != "tare":
            raise UnsupportedCommandError("scripted", name)
        return b"T\r\n"

    def reset(self):
        self.resets += 1


def hold(text):
    return replay(parse_transcript(text, "talk"), Scripted())


GOOD = """
# a comment
device  b"good"
reading mass 0.12345 g stable net step 1e-05
device  b"two"
reading mass 0.12345 g stable net
reading mass 0.12345 g stable net
device  626164
fault   bad frame
poll    b"W\\r\\n"
command tare b"T\\r\\n"
device  b"done"
reply   tare accepted
reset
device  b""
"""


def test_a_conversation_that_went_as_written():
    assert hold(GOOD) == [READING, READING, READING, *GIVEN[b"bad"], *GIVEN[b"done"]]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('device b"good"', "1 items and not 0"),
        ('device b""\nreading mass 1 g', "0 items and not 1"),
        ('device b"two"\nreading mass 0.12345 g stable net', "2 items and not 1"),
        ('device b"good"\nreading mass 0.12346 g stable net', "came instead"),
        ('device b"good"\nreading mass 0.12345 kg stable net', "came instead"),
        ('device b"good"\nreading pressure 0.12345 g stable net', "came instead"),
        ('device b"good"\nreading mass 0.12345 g moving net', "came instead"),
        ('device b"good"\nreading mass 0.12345 g net', "came instead"),
        ('device b"good"\nreading mass 0.12345 g stable', "came instead"),
        ('device b"good"\nreading mass 0.12345 g stable net step 1e-6', "came instead"),
        ('device b"good"\nfault bad frame', "came instead"),
        ('device b"bad"\nfault over range', "came instead"),
        ('device b"done"\nreply tare refused', "came instead"),
        ('device b"done"\nreply zero accepted', "came instead"),
        ('poll b"X"', "sends b'W"),
        ('command tare b"X"', "sends b'T"),
    ],
)
def test_every_difference_fails_and_names_its_line(text, words):
    with pytest.raises(AssertionError, match="talk, line ") as failed:
        hold(text)
    assert words in str(failed.value)


@pytest.mark.parametrize(
    "text",
    [
        "dance",
        "reading mass 1 g",
        'device "text"',
        "device 4",
        'device b"open',
        'device b"good"\nfault no such kind',
        'device b"good"\nreading mass heavy g',
        'device b"good"\nreading mass 1 g wobbling',
        'device b"good"\nreading mass 1 g step',
        'device b"good"\nreply tare perhaps',
    ],
)
def test_what_cannot_be_read_is_refused_with_its_line(text):
    with pytest.raises(TranscriptError, match=r"talk, line \d"):
        parse_transcript(text, "talk")


def test_runs_are_parted_by_resets():
    text = 'reset\ndevice b"a"\ndevice b"b"\nreset\nreset\ndevice b"c"'
    assert list(parse_transcript(text).runs()) == [[b"a", b"b"], [b"c"]]


def test_a_folder(tmp_path):
    (tmp_path / "b.txt").write_text("reset\n")
    (tmp_path / "a.txt").write_text("# nothing\n")
    (tmp_path / "c.md").write_text("not one")
    assert [(t.name, len(t.steps)) for t in read_transcripts(tmp_path)] == [("a", 0), ("b", 1)]
