"""Searching a port: what is tried, with whose consent, and that it is always closed."""

from itertools import count
from types import SimpleNamespace

import pytest

from benchstation.devices import adding, discovery
from benchstation.devices.adding import (
    Heard,
    Search,
    at_line,
    byte_lines,
    keep_at_line,
    last_lines,
    line_from,
    line_words,
    quoted,
    same_line,
    usable,
)
from benchstation.devices.profile import load_profile, profile_ids
from benchstation.driver_api.contract import LineSettings
from benchstation.driver_api.errors import StationError
from benchstation.link.ports import LinkError
from tests.waiting import let_pass

FRAME = b"ST,NT,+00123.45  g\r\n"
PROFILES, _ = usable()


class Line:
    """A device that speaks at one line setting only; counts how often it is opened and closed."""

    def __init__(self, speaks: LineSettings, frame: bytes = FRAME) -> None:
        self.speaks, self.frame = speaks, frame
        self.opened, self.closed, self.sent = [], 0, []

    def open(self, url, settings, *_):
        self.opened.append(settings)
        return self

    def read(self):
        let_pass(0.001)
        return self.frame if self.opened[-1] == self.speaks else b"\xff\x80"

    def write(self, data):
        self.sent.append(data)

    def close(self):
        self.closed += 1


@pytest.fixture
def line(monkeypatch):
    made = Line(LineSettings(2400, 7, "E"))
    monkeypatch.setattr(adding, "open_transport", made.open)
    return made


def search(**changes):
    return Search("/dev/p1", PROFILES, 0.01, **changes)


def test_only_the_first_settings_are_listened_at_unasked(line):
    (heard,) = search().run(LineSettings())
    assert heard.matches == []
    assert line.opened == [LineSettings()]
    assert (line.closed, line.sent) == (1, [])


def test_others_are_tried_until_one_is_good(line):
    told = []
    found = list(search(tries=True, tell=told.append).run(LineSettings()))
    assert found[-1].good
    assert found[-1].settings == line.speaks
    assert max(found, key=lambda h: h.worth) is found[-1]
    assert line.closed == len(line.opened) == len(told)
    assert line.sent == []


def test_an_address_has_no_other_settings(line):
    (heard,) = Search("socket://h:1", PROFILES, 0.01, tries=True).run(LineSettings())
    assert heard.settings == LineSettings()


def test_it_stops_when_told_to_and_closes(line):
    calls = count()
    stop = lambda: next(calls) > 5  # noqa: E731
    assert len(list(search(tries=True, stop=stop).run(LineSettings()))) <= 6
    assert line.closed == len(line.opened)


def test_it_is_closed_when_reading_fails(line, monkeypatch):
    def broken():
        raise OSError("gone")

    monkeypatch.setattr(line, "read", broken)
    with pytest.raises(OSError, match="gone"):
        list(search().run(LineSettings()))
    assert line.closed == 1


def test_asking_is_stopped_between_two_profiles(line, monkeypatch):
    monkeypatch.setattr(discovery, "ANSWER_WAIT_S", 0.001)
    stops = iter([False] * 3 + [True] * 1000)
    list(search(asks=True, stop=lambda: next(stops)).run(LineSettings(9600)))
    asked = {bytes(data) for data in line.sent}
    assert len(asked) <= 2


@pytest.mark.parametrize(
    ("url", "listening"),
    [("socket://h:1", "listening for 0.01 s"), ("/dev/p1", "listening at 9600 8N1 for 0.01 s")],
)
def test_answers_that_no_profile_reads_are_counted(monkeypatch, url, listening):
    """It answers each request with the same words; an address has no line settings to tell of."""

    class Refusing(Line):
        waiting, now = b"", 0.0

        def read(self):
            self.now += 0.01
            data, self.waiting = self.waiting, b""
            return data

        def write(self, data):
            self.waiting = b"what?\r\n"

    refusing, told = Refusing(LineSettings()), []
    clock = SimpleNamespace(perf_counter=lambda: refusing.now)
    monkeypatch.setattr(discovery, "time", clock)
    monkeypatch.setattr(adding, "open_transport", refusing.open)
    searched = Search(url, PROFILES, 0.01, asks=True, tell=told.append)
    best = max(searched.run(LineSettings()), key=lambda heard: heard.worth)
    assert b"".join(best.chunks).startswith(b"what?\r\nwhat?\r\n")
    assert not best.matches
    assert f"{best.count} bytes came, and no profile reads" in adding.nothing_words(
        best, asked=True
    )
    assert told[0] == listening


def test_a_peer_that_floods_the_line_is_heard_only_for_a_while(monkeypatch):
    class Flood(Line):
        def read(self):
            return b"x" * 4096

    flood = Flood(LineSettings())
    monkeypatch.setattr(adding, "open_transport", flood.open)
    (heard,) = Search("socket://h:1", PROFILES, 60.0).run(LineSettings())
    assert heard.count == discovery.MOST_BYTES
    assert flood.closed == 1


# --- words ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("text", ["9600 8N1", "2400 7E1", "115200 8O2"])
def test_line_settings_in_words_and_back(text):
    assert line_words(line_from(text)) == text


@pytest.mark.parametrize("text", ["fast", "9600", "9600 9N1", "9600 8X1", ""])
def test_no_line_settings(text):
    assert line_from(text) is None


def test_bytes_in_lines():
    data = bytes(range(40))
    assert len(byte_lines(data)) == 3
    assert byte_lines(b"A\x00\xff") == [f"{'41 00 ff':<48} A.."]
    assert last_lines(b"x" * 1000) == byte_lines(b"x" * 128)


def test_two_names_of_one_port(tmp_path):
    (tmp_path / "port").write_text("")
    (tmp_path / "link").symlink_to(tmp_path / "port")
    assert same_line(str(tmp_path / "port"), str(tmp_path / "link"))
    assert not same_line(str(tmp_path / "port"), "socket://a:1")
    assert same_line("usb:0001:0002:GONE", "usb:0001:0002:GONE")
    assert not same_line("usb:0001:0002:GONE", str(tmp_path / "port"))


def test_nothing_is_worth_less_than_bytes():
    nothing, noise = Heard(LineSettings(), [], []), Heard(LineSettings(), [b"x"], [])
    assert noise.worth > nothing.worth
    assert adding.nothing_words(nothing, asked=False) == "Nothing came."
    assert "1 bytes came" in adding.nothing_words(noise, asked=True)
    answer = Heard(LineSettings(), [b"xyz"], [], answered=True)
    assert noise.worth > answer.worth > nothing.worth


# --- another line --------------------------------------------------------------------------------


@pytest.mark.parametrize("name", profile_ids())
def test_every_profile_can_be_kept_for_another_line(name, tmp_path):
    profile = load_profile(name)
    settings = LineSettings(1200, 7, "O", 2)
    made = at_line(profile, settings)
    keep_at_line(profile, made, tmp_path / "own", [])
    assert [path.name for path in (tmp_path / "own").iterdir()] == [f"{made.id}.toml"]
    again = load_profile(made.id, [tmp_path / "own"])
    assert again == made
    assert again.line_settings == settings
    assert again.options == profile.options
    again.make_driver()


def test_the_same_line_needs_no_profile(tmp_path):
    profile = load_profile("scale-status-first")
    assert at_line(profile, profile.line_settings) is profile
    keep_at_line(profile, profile, tmp_path / "own", [])
    assert not (tmp_path / "own").exists()


def test_a_profile_that_cannot_be_copied_leaves_nothing(tmp_path):
    text = 'title = "T"\nid = "odd"\nkind = "mass"\ndriver = "text_line"\nline.baudrate = 2400\n'
    text += "rate.expected_hz = 5.0\n[options]\nunits = { g = 0.001 }\nunit = 'g'\n"
    text += "fields = [{ kind = 'number', longest = 8 }]\n"
    (tmp_path / "odd.toml").write_text(text, "utf-8")
    profile = load_profile("odd", [tmp_path])
    made = at_line(profile, LineSettings(1200))
    with pytest.raises(StationError):
        keep_at_line(profile, made, tmp_path / "own", [tmp_path])
    assert list((tmp_path / "own").iterdir()) == []


def test_what_a_device_says_is_no_markup():
    assert quoted('a"b\\\n') == '"a\\"b\\\\?"'


def test_a_port_that_cannot_be_opened_is_an_error():
    with pytest.raises(LinkError):
        list(Search("/dev/no-such-port", PROFILES, 0.01).run(LineSettings()))
