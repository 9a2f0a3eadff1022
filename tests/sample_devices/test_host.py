"""Virtual devices on real lines: served, unplugged, put back under the same name, closed."""

import os
import socket
import threading
import time

import pytest
import serial

from sample_devices.host import PtyHost, TcpHost, serve
from sample_devices.protocol_bench import BenchPort
from tests.waiting import let_pass

needs_pty = pytest.mark.skipif(not hasattr(os, "openpty"), reason="no pseudo-terminals here")
KINDS = [
    pytest.param(PtyHost, marks=needs_pty, id="pty"),
    pytest.param(TcpHost, id="tcp"),
    pytest.param(lambda device, clock: BenchPort("host", device, clock), id="bench"),
]


class Echo:
    """Sends a dot every 10 ms and everything it is told, in brackets."""

    def __init__(self):
        self.due = None

    def output(self, t):
        self.due = t if self.due is None or t - self.due > 1.0 else self.due
        count = max(0, int((t - self.due) / 0.01))
        self.due += count * 0.01
        return b"." * count

    def receive(self, data, t):
        return b"[" + data + b"]"


@pytest.fixture(params=KINDS)
def host(request):
    made = request.param(Echo(), time.perf_counter)
    yield made
    made.close()


def connect(host):
    return serial.serial_for_url(host.url, timeout=0.5)


def test_bytes_go_both_ways(host):
    with connect(host) as port:
        assert port.read(3) == b"..."
        port.write(b"hello")
        heard = b""
        while b"[hello]" not in heard:
            byte = port.read(1)
            assert byte
            heard += byte


def test_it_comes_back_under_the_same_name(host):
    url = host.url
    with connect(host) as port:
        assert port.read(1)
        host.unplug()
    with pytest.raises((OSError, serial.SerialException)):
        connect(host)
    host.unplug()
    host.replug()
    assert host.url == url
    with connect(host) as port:
        assert port.read(3) == b"..."
    host.replug()


def test_closing_leaves_nothing(request):
    threads = threading.active_count()
    for kind in KINDS:
        if kind.marks and not hasattr(os, "openpty"):
            continue
        made = kind.values[0](Echo(), time.perf_counter)
        made.close()
        made.close()
        with pytest.raises((OSError, serial.SerialException)):
            connect(made)
    assert threading.active_count() == threads


def test_nobody_reading_does_not_stop_the_device(host):
    port = connect(host)
    let_pass(0.05)
    port.close()
    with connect(host) as again:
        assert again.read(2)


def test_a_second_caller_takes_over_tcp():
    host = TcpHost(Echo(), time.perf_counter)
    address = ("127.0.0.1", int(host.url.rpartition(":")[2]))
    with socket.create_connection(address) as first, socket.create_connection(address) as second:
        second.settimeout(1.0)
        assert second.recv(1) == b"."
        first.settimeout(1.0)
        while first.recv(4096):
            pass
    host.close()


def test_serve_takes_what_the_system_has():
    host = serve(Echo(), time.perf_counter)
    assert isinstance(host, PtyHost if hasattr(os, "openpty") else TcpHost)
    host.close()
