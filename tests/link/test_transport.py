"""Opening a line: what cannot be opened is worded, with the cause kept for the log."""

import os
import socket
import subprocess
import sys
import termios
import time

import pytest
import serial

from benchstation.driver_api.contract import LineSettings
from benchstation.link import transport
from benchstation.link.ports import LinkError
from benchstation.link.transport import open_transport
from tests.link.conftest import GOOD, Sender

LINE = LineSettings(baudrate=9600, bytesize=7, parity="E", stopbits=2)


def refusal(url):
    with pytest.raises(LinkError) as refused:
        open_transport(url, LineSettings())
    assert refused.value.where == url
    assert refused.value.advice
    assert refused.value.detail
    return refused.value.what


@pytest.fixture
def closed_port():
    """A TCP port of this machine where nobody listens."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def receive(line, count, patience_s=2.0):
    data, start = b"", time.perf_counter()
    while len(data) < count and time.perf_counter() - start < patience_s:
        data += line.read()
    return data


def test_no_such_port():
    assert refusal("/dev/no-such-port") == "there is no such port."
    assert refusal("bench://nobody") == "there is no such port."


def test_an_address_that_is_none():
    for url in ("socket://127.0.0.1", "rfc2217://127.0.0.1", "socket://:7"):
        scheme = url.partition(":")[0]
        assert refusal(url).endswith(f"an address looks like {scheme}://HOST:PORT.")
    assert "seven" in refusal("socket://127.0.0.1:seven")
    assert "protocol 'teapot' not known" in refusal("teapot://x")


@pytest.mark.parametrize("url", ["socket://no-such-host.invalid:7", "rfc2217://a.invalid:7"])
def test_a_name_that_nobody_has(url, monkeypatch):
    def unknown(*_, **__):
        raise socket.gaierror(-2, "Name or service not known")

    monkeypatch.setattr(socket, "getaddrinfo", unknown)
    assert refusal(url) == "nobody on the network has this name."


@pytest.mark.parametrize(
    ("said", "what", "advice"),
    [
        ("timeout while waiting for option 'control'", "lines RTS and DTR", "?ign_set_control"),
        ("timeout while waiting for option 'baudrate'", "these line settings", "socket://"),
        ("Remote does not seem to support RFC2217 or BINARY mode", "RFC 2217", "socket://"),
        ("something never heard of", "the port cannot be opened", "Check"),
    ],
)
def test_what_a_device_server_says_is_kept(said, what, advice, monkeypatch):
    """What the library says of it, as it was seen with ser2net 4.3."""

    class Port:
        def open(self):
            raise serial.SerialException(said)

    monkeypatch.setattr(transport.serial, "serial_for_url", lambda *_, **__: Port())
    with pytest.raises(LinkError) as refused:
        open_transport("rfc2217://127.0.0.1:7", LineSettings())
    assert what in refused.value.what
    assert said in refused.value.what
    assert advice in refused.value.advice


@pytest.mark.parametrize("path", ["/dev/null", "/tmp"])
def test_what_is_no_serial_port(path):
    assert refusal(path) == "this is no serial port."


def test_nobody_answers(closed_port):
    assert refusal(f"socket://127.0.0.1:{closed_port}") == "nobody answers at this address."


def test_an_address_that_swallows_everything(monkeypatch):
    def never(*_):
        raise TimeoutError("timed out")

    monkeypatch.setattr(transport.socket, "create_connection", never)
    assert refusal("socket://192.0.2.1:7") == "nobody answers at this address."


def test_a_stop_need_not_wait_for_a_silent_address():
    """Stopping a reader waits 2 s; connecting must give up sooner."""
    assert transport.CONNECT_WAIT_S + transport.READ_WAIT_S < 2.0


def test_no_permission(monkeypatch):
    def denied(path, *_):
        raise PermissionError(13, "Permission denied", path)

    monkeypatch.setattr(os, "open", denied)
    with pytest.raises(LinkError, match="this account may not use the port") as refused:
        open_transport("/dev/ttyS0", LINE)
    assert "dialout" in refused.value.advice


DENIED = """
import os, sys
from benchstation.driver_api.contract import LineSettings
from benchstation.link.ports import LinkError
from benchstation.link.transport import open_transport
if os.getuid() == 0:
    os.setgid(65534)
    os.setuid(65534)
try:
    open_transport(sys.argv[1], LineSettings())
except LinkError as error:
    print(error)
"""


def test_a_port_of_another_account(serve_pty):
    """The system itself refuses: a program without rights opens a terminal that grants none."""
    host = serve_pty(Sender())
    terminal = os.path.realpath(host.url)
    os.chmod(terminal, 0)
    found = subprocess.run(
        [sys.executable, "-c", DENIED, terminal], capture_output=True, text=True, check=False
    )
    assert "this account may not use the port" in found.stdout, found.stderr
    assert "dialout" in found.stdout


def test_a_port_that_vanishes_while_it_is_opened(serve_pty, monkeypatch):
    """pySerial lets the terminal layer's own error through, which is no OSError."""

    def vanish(*_):
        raise termios.error(5, "Input/output error")

    host = serve_pty(Sender())
    monkeypatch.setattr(termios, "tcflush", vanish)
    handles = len(os.listdir("/proc/self/fd"))
    assert refusal(host.url).startswith("the port cannot be opened: ")
    assert "Input/output error" in refusal(host.url)
    assert len(os.listdir("/proc/self/fd")) == handles


def test_a_port_is_for_one_program(serve_pty):
    host = serve_pty(Sender())
    line = open_transport(host.url, LineSettings())
    assert refusal(host.url) == "another program uses the port."
    line.close()
    open_transport(host.url, LineSettings()).close()


def test_line_settings_are_set(serve_pty):
    line = open_transport(serve_pty(Sender()).url, LINE)
    port = line._port
    assert (port.baudrate, port.bytesize, port.parity, port.stopbits) == (9600, 7, "E", 2)
    assert port.exclusive
    line.close()


def test_bytes_go_both_ways(serve):
    device = Sender(rate_hz=20.0, answers={b"W\r\n": b"answer"})
    line = open_transport(serve(device).url, LineSettings())
    assert receive(line, len(GOOD)).startswith(GOOD)
    line.write(b"W\r\n")
    assert b"answer" in receive(line, 3 * len(GOOD))
    line.close()


def test_a_read_waits_no_longer_than_it_says(serve):
    line = open_transport(serve(Sender(b"")).url, LineSettings())
    start = time.perf_counter()
    assert line.read() == b""
    assert time.perf_counter() - start < 2 * transport.READ_WAIT_S
    line.close()


def test_a_lost_line_raises(serve):
    host = serve(Sender(b""))
    line = open_transport(host.url, LineSettings())
    line.read()
    host.unplug()
    with pytest.raises((OSError, serial.SerialException)):
        receive(line, 1)
    line.close()
