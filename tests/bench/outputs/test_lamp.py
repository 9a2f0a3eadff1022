"""The stack light: the guard's word on a port at once, the fail-safe side when there is none."""

import logging
import threading
import time
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.bench.outputs.assembly import lamp_from
from benchstation.bench.outputs.lamp import HALF_FLASH_S, Light, light_of
from benchstation.config.settings import parse_settings
from benchstation.domain.guard import AlarmKind, AlarmState, AlarmView, Guard, GuardSnapshot
from benchstation.domain.guard_limits import GuardLimits
from benchstation.driver_api.reading import Health
from benchstation.quantities.notation import NO_VALUE
from benchstation.screens.bench.lamp import lamp_view
from sample_devices.host import PtyHost, TcpHost
from sample_devices.protocol_bench import BenchPort
from tests.link.conftest import pty_only
from tests.waiting import eventually, stays

LIMITS = GuardLimits(20e5, 30e5, "hose", warning_on_delay_s=0.0, off_delay_s=0.0, max_rate_pa_s=1e9)
SILENT_S = 0.8
TEXT = {state.value: f"{state.value}\r\n" for state in Light}


class Listener:
    """A lamp that takes commands: keeps every whole line and when it came."""

    def __init__(self):
        self.lines = []
        self._rest = b""

    def output(self, t):
        return b""

    def receive(self, data, t):
        *lines, self._rest = (self._rest + data).split(b"\r\n")
        self.lines += [(t, line.decode()) for line in lines]
        return b"ok\r\n"

    @property
    def said(self):
        return [line for _, line in self.lines]

    @property
    def last(self):
        return self.lines[-1][1] if self.lines else ""


def settings(url, **parts):
    return parse_settings({"lamp": {"url": url, "refresh_s": 0.2, **parts}}).lamp


@pytest.fixture
def light():
    """Start a lamp; ended with the test."""
    made = []

    def start(url, **parts):
        made.append(lamp_from(settings(url, **parts), None, SILENT_S))
        made[-1].start()
        return made[-1]

    yield start
    for lamp in made:
        lamp.close()


@pytest.fixture
def port():
    made = BenchPort("lamp", Listener(), time.perf_counter)
    yield made
    made.close()


class Judged:
    """A guard whose every judgement is told to a lamp, as the reader's thread does."""

    def __init__(self, lamp):
        self.guard = Guard(LIMITS)
        self.lamp = lamp
        self.at = 0.0

    def read(self, bar):
        self.at += 0.1
        self.guard.judge_reading(self.at, bar * 1e5)
        self.lamp.tell(self.guard.snapshot())

    def fault(self):
        self.at += 0.1
        self.guard.judge_fault(self.at, "open loop")
        self.lamp.tell(self.guard.snapshot())

    def acknowledge(self, kind=None):
        open_ones = [a for a in self.guard.snapshot().alarms if kind in (None, a.kind)]
        for alarm in open_ones:
            self.guard.acknowledge(self.at, "ada", "seen", episode=alarm.episode)
        self.lamp.tell(self.guard.snapshot())


class Silent:
    def tell(self, *_):
        """Nobody listens."""


def test_the_worst_that_is_open_decides():
    judged = Judged(Silent())
    seen = lambda: light_of(judged.guard.snapshot())  # noqa: E731
    assert seen() is Light.LOST  # nothing was read yet
    judged.read(10)
    assert seen() is Light.NORMAL
    judged.read(25)
    assert seen() is Light.WARNING
    judged.acknowledge()
    assert seen() is Light.ACKNOWLEDGED
    judged.read(31)
    assert seen() is Light.ALARM
    judged.acknowledge(AlarmKind.HIGH_LIMIT)
    assert seen() is Light.ACKNOWLEDGED
    judged.read(10)
    assert seen() is Light.NORMAL


def test_a_limit_that_nobody_acknowledged_outlives_the_signal():
    judged = Judged(Silent())
    judged.read(31)
    judged.fault()
    assert light_of(judged.guard.snapshot()) is Light.ALARM
    judged.acknowledge()
    assert light_of(judged.guard.snapshot()) is Light.LOST  # acknowledged, and still not known


def test_a_warning_beside_an_acknowledged_limit_does_not_lower_it():
    judged = Judged(Silent())
    judged.read(31)
    judged.acknowledge(AlarmKind.HIGH_LIMIT)
    assert light_of(judged.guard.snapshot()) is Light.ACKNOWLEDGED


def test_a_signal_that_came_back_wants_to_be_acknowledged():
    judged = Judged(Silent())
    judged.read(10)
    judged.fault()
    assert light_of(judged.guard.snapshot()) is Light.LOST
    judged.read(10)
    assert light_of(judged.guard.snapshot()) is Light.ALARM
    judged.acknowledge()
    assert light_of(judged.guard.snapshot()) is Light.NORMAL


def view(kind, state):
    return AlarmView(kind, state, "e", 0.0, None, None, "", "", "")


@given(
    st.lists(
        st.builds(
            view,
            st.sampled_from(AlarmKind),
            st.sampled_from([s for s in AlarmState if s is not AlarmState.NORMAL]),
        ),
        unique_by=lambda alarm: alarm.kind,
    ),
    st.one_of(st.none(), st.floats(-1e5, 1e8)),
)
def test_it_is_normal_only_when_nothing_is_open_and_the_pressure_is_known(alarms, gauge_pa):
    alarms.sort(key=lambda alarm: list(AlarmKind).index(alarm.kind))
    seen = GuardSnapshot(tuple(alarms), alarms[0] if alarms else None, False, gauge_pa, 0.0)
    light = light_of(seen)
    assert (light is Light.NORMAL) == (not alarms and gauge_pa is not None)
    graver = [a for a in alarms if a.kind is not AlarmKind.HIGH_WARNING]
    if any(alarm.state.unacknowledged for alarm in graver):
        assert light in (Light.ALARM, Light.LOST)


HOSTS = {"tcp": TcpHost, "bench": lambda device, clock: BenchPort("lamp", device, clock)}


@pytest.mark.parametrize("kind", ["tcp", "bench", pytest.param("pty", marks=pty_only)])
def test_commands_follow_the_guard_on_every_kind_of_line(light, kind):
    device = Listener()
    host = (HOSTS | {"pty": PtyHost})[kind](device, time.perf_counter)
    try:
        lamp = light(host.url, text=TEXT)
        eventually(lambda: device.last == "lost")
        judged = Judged(lamp)
        for bar, expected in ((10, "normal"), (25, "warning"), (31, "alarm")):
            judged.read(bar)
            eventually(lambda expected=expected: device.last == expected, SILENT_S)
        judged.acknowledge()
        eventually(lambda: device.last == "acknowledged", SILENT_S)
        assert lamp.health().category is Health.GOOD
        lamp.close()
        eventually(lambda: device.last == "lost")
    finally:
        host.close()


def test_the_lines_stand_as_the_settings_say(light, port):
    lamp = light(port.url, rts={}, dtr={"steady": ["warning", "alarm", "acknowledged"]})
    eventually(lambda: lamp.sent > 0)
    assert (port.level("rts"), port.level("dtr")) == (False, False)  # nothing heard yet
    judged = Judged(lamp)
    judged.read(10)
    eventually(lambda: port.level("rts"), SILENT_S)
    assert not port.level("dtr")
    judged.read(31)
    eventually(lambda: port.level("dtr") and not port.level("rts"), SILENT_S)


def test_the_port_opens_with_its_lines_on_the_fail_safe_side(light, port):
    lamp = light(port.url, rts={"fail_safe": "off"}, dtr={"steady": ["alarm"], "fail_safe": "on"})
    eventually(lambda: lamp.sent > 0)
    assert {(line, on) for _, line, on in port.levels} == {("rts", False), ("dtr", True)}


@pytest.mark.parametrize("side", ["off", "on"])
def test_silence_of_the_guard_goes_to_the_fail_safe_side(light, port, side):
    steady = ["normal"] if side == "off" else ["alarm"]
    lamp = light(port.url, rts={"steady": steady, "fail_safe": side})
    Judged(lamp).read(10)
    eventually(lambda: port.level("rts") is (side == "off"), SILENT_S)
    waited = eventually(lambda: port.level("rts") is (side == "on"), 3 * SILENT_S)
    assert waited > SILENT_S / 2
    assert lamp.light is Light.LOST


def test_the_end_of_the_program_goes_to_the_fail_safe_side(light, port):
    lamp = light(port.url, dtr={"steady": ["alarm"], "fail_safe": "on"})
    Judged(lamp).read(10)
    eventually(lambda: not port.level("dtr") and lamp.sent > 0, SILENT_S)
    lamp.close()
    assert [on for _, line, on in port.levels if line == "dtr"][-1]


def test_a_flash_starts_with_a_change_and_goes_on_by_itself(light, port):
    lamp = light(port.url, rts={"steady": ["normal"], "flash": ["alarm"]})
    judged = Judged(lamp)
    judged.read(10)
    eventually(lambda: port.level("rts"), SILENT_S)
    start = time.perf_counter()
    judged.read(31)
    eventually(lambda: not port.level("rts"), 0.8 * HALF_FLASH_S)

    def gaps() -> list[float]:
        judged.read(31)
        turns = [(t, on) for t, line, on in port.levels if line == "rts" and t > start]
        edges = [b[0] for a, b in pairwise(turns) if a[1] is not b[1]]
        return [b - a for a, b in pairwise(edges)]

    eventually(lambda: len(gaps()) >= 5)
    assert sum(gaps()) / len(gaps()) == pytest.approx(HALF_FLASH_S, rel=0.15)


def test_a_lamp_that_was_switched_off_and_on_is_told_again(light):
    device = Listener()
    host = TcpHost(device, time.perf_counter)
    try:
        lamp = light(host.url, text=TEXT)
        judged = Judged(lamp)
        judged.read(10)
        eventually(lambda: device.last == "normal")
        count = device.said.count("normal")

        def told_again() -> bool:
            judged.read(10)
            return device.said.count("normal") >= count + 2

        assert eventually(told_again) < 2.0
    finally:
        host.close()


@pytest.mark.parametrize("kind", ["tcp", "bench", pytest.param("pty", marks=pty_only)])
def test_a_lost_port_is_said_once_and_comes_back_with_the_present_state(light, caplog, kind):
    device = Listener()
    host = (HOSTS | {"pty": PtyHost})[kind](device, time.perf_counter)
    caplog.set_level(logging.INFO, "benchstation.bench.outputs.lamp")
    try:
        lamp = light(host.url, text=TEXT)
        judged = Judged(lamp)
        judged.read(10)
        eventually(lambda: device.last == "normal")
        host.unplug()
        eventually(lambda: lamp.health().category is Health.FAILURE, 1.0)
        report = lamp.health()
        assert report.reason
        assert report.advice
        assert lamp_view(lamp).reading.number == NO_VALUE
        assert lamp_view(lamp).raw_lines[-1] == r"> normal\r\n"
        stays(lambda: lamp.health().category is Health.FAILURE, 0.5)
        judged.read(31)
        host.replug()
        device.lines.clear()

        def shows_the_alarm() -> bool:
            judged.read(31)
            return device.last == "alarm"

        eventually(shows_the_alarm, 4.0)
        eventually(lambda: lamp.health().category is Health.GOOD)
        said = [record.message for record in caplog.records if "Stack light" in record.message]
        assert len([words for words in said if "is lost" in words]) == 1
        assert said.count("Stack light is back") == 1
    finally:
        host.close()


def test_a_port_that_hangs_holds_nobody_up():
    """Neither the guard's thread nor the end of the program waits for a port that blocks."""
    let_go = threading.Event()

    class Stuck:
        def send(self, signal):
            let_go.wait(10)

        def check(self):
            """Never reached."""

        def close(self):
            """Nothing is held."""

    lamp = lamp_from(settings("stuck://", rts={}), None, SILENT_S)
    lamp._connect = lambda _: Stuck()
    lamp.start()
    judged = Judged(lamp)
    longest = 0.0
    for count in range(200):
        start = time.perf_counter()
        judged.read(10 + 25 * (count % 2))
        longest = max(longest, time.perf_counter() - start)
    assert longest < 0.5  # the port blocks for 10 s
    let_go.set()
    lamp.close()


@pty_only
def test_a_port_without_such_lines_says_so(light):
    host = PtyHost(Listener(), time.perf_counter)
    try:
        lamp = light(host.url, rts={})
        eventually(lambda: "RTS" in lamp.health().reason)
        assert "commands" in lamp.health().advice
    finally:
        host.close()


def test_a_network_address_has_no_lines(light):
    host = TcpHost(Listener(), time.perf_counter)
    try:
        lamp = light(host.url, rts={})
        eventually(lambda: "no serial port" in lamp.health().reason)
    finally:
        host.close()
