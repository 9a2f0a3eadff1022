"""Readers on real lines: pseudo-terminals, TCP ports and the bench's own URL."""

import os
import threading
import time

import pytest

from benchstation.devices.profile import load_profile
from benchstation.driver_api.contract import LineSettings
from benchstation.driver_api.reading import Fault, Reading
from benchstation.link.reader import Reader
from benchstation.link.transport import open_transport
from sample_devices.host import PtyHost, TcpHost
from sample_devices.protocol_bench import BenchPort

GOOD = b"ST,NT,+00123.45  g\r\n"


class Sender:
    """A device that sends ``frame`` at a rate and answers requests from a table."""

    def __init__(self, frame=GOOD, rate_hz=100.0, answers=None):
        self.frame = frame
        self.interval_s = 1.0 / rate_hz
        self.answers = answers or {}
        self.asked = []
        self.due = None

    def output(self, t):
        if self.due is None or t - self.due > 0.5:
            self.due = t
        sent = b""
        while self.due <= t:
            sent += self.frame
            self.due += self.interval_s
        return sent

    def receive(self, data, t):
        self.asked.append((t, data))
        return self.answers.get(data, b"")


class Watch:
    """Keeps what a reader tells."""

    def __init__(self):
        self.items = []
        self.states = []
        self.changed = threading.Event()

    def on_item(self, item):
        self.items.append(item)

    def on_state(self, state, words):
        self.states.append((state, words))

    @property
    def readings(self):
        return [item for item in self.items if isinstance(item, Reading)]

    @property
    def faults(self):
        return [item for item in self.items if isinstance(item, Fault)]

    @property
    def words(self):
        return self.states[-1][1] if self.states else ""


HOSTS = {
    "tcp": TcpHost,
    "bench": lambda device, clock: BenchPort("test", device, clock),
}
if hasattr(os, "openpty"):
    HOSTS["pty"] = PtyHost

pty_only = pytest.mark.skipif(not hasattr(os, "openpty"), reason="no pseudo-terminals here")


@pytest.fixture(params=sorted(HOSTS))
def serve(request):
    """Serve a device on each kind of line in turn."""
    yield from _serving(HOSTS[request.param])


@pytest.fixture
def serve_pty():
    if "pty" not in HOSTS:
        pytest.skip("no pseudo-terminals here")
    yield from _serving(HOSTS["pty"])


@pytest.fixture
def serve_bench():
    yield from _serving(HOSTS["bench"])


def _serving(make):
    hosts = []

    def start(device):
        hosts.append(make(device, time.perf_counter))
        return hosts[-1]

    yield start
    for host in hosts:
        host.close()


@pytest.fixture
def read():
    """Start a reader at a URL with a profile's driver; all are stopped at the end."""
    readers = []

    def start(url, profile="scale-status-first", watch=None, **words):
        watch = watch or Watch()
        driver = load_profile(profile).make_driver()
        reader = Reader(
            "scale",
            words.pop("driver", driver),
            words.pop("connect", lambda: open_transport(url, LineSettings())),
            clock=words.pop("clock", time.perf_counter),
            on_item=words.pop("on_item", watch.on_item),
            on_state=words.pop("on_state", watch.on_state),
            **words,
        )
        readers.append(reader)
        reader.start()
        return reader, watch

    yield start
    for reader in readers:
        reader.stop()
