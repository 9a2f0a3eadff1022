"""``devices lamp`` and ``devices feed``: a person confirms what the bench puts out."""

import io
import socket
import threading
import time

import pytest

from benchstation.cli.main import main
from benchstation.cli.outputs import read_feed, try_lamp
from benchstation.config.settings import parse_settings, save_settings
from benchstation.driver_api.errors import StationError
from sample_devices.protocol_bench import BenchPort
from tests.bench.outputs.test_lamp import TEXT, Listener


def test_the_feed_is_printed_until_it_ends():
    with socket.create_server(("127.0.0.1", 0)) as server:

        def serve():
            connection, _ = server.accept()
            with connection:
                connection.sendall(b'{"kind":"hello"}\n{"kind":"reading"}\n')

        serving = threading.Thread(target=serve)
        serving.start()
        said = []
        read_feed(said.append, lambda: parse_settings({"feed_port": server.getsockname()[1]}))
        serving.join()
    assert said == ['{"kind":"hello"}', '{"kind":"reading"}', "the feed ended"]


def test_a_feed_that_is_off_or_not_there_says_so():
    with pytest.raises(StationError, match="is off"):
        read_feed(lambda _: None, lambda: parse_settings({}))
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]
    with pytest.raises(StationError, match="Open the window"):
        read_feed(lambda _: None, lambda: parse_settings({"feed_port": port}))


@pytest.fixture
def port():
    made = BenchPort("tried", Listener(), time.perf_counter)
    yield made
    made.close()


class Person:
    """Answers in turn, and looks at the lamp each time."""

    def __init__(self, answers, look):
        self.answers, self.look, self.seen = list(answers), look, []

    def __call__(self, question):
        self.seen.append(self.look())
        if not self.answers:
            raise EOFError
        return self.answers.pop(0)


def tried(port, answers, look, **parts):
    said = []
    person = Person(answers, look)
    settings = parse_settings({"lamp": {"url": port.url, **parts}})
    return try_lamp(said.append, person, lambda: settings), person.seen, said


def test_every_state_is_shown_and_confirmed_and_it_is_left_on_the_fail_safe_side(port):
    ok, seen, said = tried(
        port, ["y", "Yes", "maybe", "y", "y", "y"], lambda: port._device.last, text=TEXT
    )
    assert ok
    assert seen == ["normal", "warning", "alarm", "alarm", "acknowledged", "lost"]
    assert port._device.last == "lost"
    assert "no safety device" in said[0]
    assert said[-2] == "all states were confirmed"


def test_lines_are_stepped_and_what_was_not_right_is_named(port):
    ok, seen, said = tried(port, "ynyyy", lambda: port.level("rts"), rts={})
    assert not ok
    assert seen == [True, False, False, False, False]
    assert said[-2] == "NOT confirmed: warning"
    assert "RTS off" in said[-1]


@pytest.mark.parametrize(("typed", "code"), [("y\n" * 5, 0), ("n\n" * 5, 1)])
def test_the_command_gives_the_persons_verdict(port, monkeypatch, tmp_path, capsys, typed, code):
    monkeypatch.setenv("BENCHSTATION_HOME", str(tmp_path))
    save_settings(parse_settings({"lamp": {"url": port.url, "text": TEXT}}))
    monkeypatch.setattr("sys.stdin", io.StringIO(typed))
    assert main(["devices", "lamp"]) == code
    assert "confirmed" in capsys.readouterr().out


def test_its_help_says_that_it_is_no_safety_device(capsys):
    with pytest.raises(SystemExit):
        main(["devices", "lamp", "--help"])
    assert "no safety device" in " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize("answers", [["y", "q"], ["y"]])
def test_it_can_be_stopped(port, answers):
    ok, seen, said = tried(port, answers, lambda: None, text=TEXT)
    assert not ok
    assert len(seen) == 2
    assert "not tried" in said[-2]
    assert port._device.last == "lost"


def test_a_port_that_is_not_there_is_said(monkeypatch):
    monkeypatch.setattr("benchstation.cli.outputs.OPEN_WITHIN_S", 0.3)
    settings = parse_settings({"lamp": {"url": "/dev/no-such-port", "rts": {}}})
    with pytest.raises(StationError, match="no such port"):
        try_lamp(lambda _: None, lambda _: "y", lambda: settings)


def test_without_a_lamp_it_says_how_to_get_one():
    with pytest.raises(StationError, match=r"\[bench.lamp\]"):
        try_lamp(lambda _: None, lambda _: "y", lambda: parse_settings({}))


def test_the_gauges_own_port_is_tried_by_its_name(port):
    gauge = {"id": "g", "role": "gauge", "profile": "gauge-value-unit", "url": port.url}
    settings = parse_settings({"instruments": [gauge], "lamp": {"url": "gauge", "dtr": {}}})
    seen = Person("yyyyy", lambda: port.level("dtr"))
    assert try_lamp(lambda _: None, seen, lambda: settings)
    assert seen.seen == [True, False, False, False, False]
