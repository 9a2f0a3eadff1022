"""Against peers that nobody here wrote: a Modbus server, an RFC 2217 port server, socat's ports."""

import os
import shutil
import socket
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest
import serial
from serial.rfc2217 import PortManager

from benchstation.devices.adding import Search, usable
from benchstation.driver_api.contract import LineSettings
from benchstation.driver_api.reading import FaultKind
from benchstation.link.statistics import LinkState
from benchstation.link.transport import open_transport
from drivers.modbus_registers import ModbusRegistersDriver
from tests.link.conftest import GOOD, pty_only
from tests.link.modbus_peer import PRESSURE_BAR
from tests.waiting import eventually

PEER = Path(__file__).parent / "modbus_peer.py"


def free_port():
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return found.getsockname()[1]


def answers(port):
    try:
        socket.create_connection(("127.0.0.1", port), 0.2).close()
    except OSError:
        return False
    return True


class Peer:
    """A program that runs until it is ended."""

    def __init__(self, *words):
        self.process = subprocess.Popen(
            [str(word) for word in words], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )

    def close(self):
        self.process.terminate()
        self.process.wait(5.0)


# --- Modbus --------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def over_tcp():
    """The library's server on a TCP port of this machine."""
    port = free_port()
    peer = Peer(sys.executable, PEER, "tcp", port)
    eventually(lambda: answers(port), within_s=10.0)
    yield f"socket://127.0.0.1:{port}", "tcp"
    peer.close()


@pytest.fixture(scope="module")
def over_a_pty(tmp_path_factory):
    """The library's server at one end of a cable."""
    if not hasattr(os, "openpty"):
        pytest.skip("no pseudo-terminals here")
    end = tmp_path_factory.mktemp("cable") / "end"
    peer = Peer(sys.executable, PEER, "rtu", end)
    eventually(end.exists, within_s=10.0)
    yield str(end), "rtu"
    peer.close()


@pytest.fixture(params=["over_tcp", "over_a_pty"])
def server(request):
    return request.getfixturevalue(request.param)


def driver(framing, **changes):
    options = {
        "channel": {"quantity": "pressure", "reference": "gauge"},
        "framing": framing,
        "device": 1,
        "function": 3,
        "address": 0,
        "type": "float32",
        "unit": "bar",
        "factor": 1e5,
    }
    return ModbusRegistersDriver(options | changes)


CASES = {
    "float32 ABCD": ({"order": "ABCD"}, PRESSURE_BAR * 1e5),
    "float32 CDAB": ({"address": 2, "order": "CDAB"}, PRESSURE_BAR * 1e5),
    "float32 BADC": ({"address": 4, "order": "BADC"}, PRESSURE_BAR * 1e5),
    "float32 DCBA": ({"address": 6, "order": "DCBA"}, PRESSURE_BAR * 1e5),
    "int32 ABCD": ({"address": 8, "type": "int32", "order": "ABCD", "factor": 100.0}, -1_532_000.0),
    "int32 CDAB": (
        {"address": 10, "type": "int32", "order": "CDAB", "factor": 100.0},
        -1_532_000.0,
    ),
    "int16": ({"address": 12, "type": "int16", "factor": 100.0}, 1_532_000.0),
    "int16, function 4": ({"function": 4, "type": "int16", "factor": 1000.0}, 1_532_000.0),
    "with its status": ({"status": {"address": 13, "codes": {"0": "good"}}}, PRESSURE_BAR * 1e5),
}


@pytest.mark.parametrize("case", CASES)
def test_the_peers_registers_are_read(server, read, case):
    url, framing = server
    changes, value = CASES[case]
    reader, watch = read(url, driver=driver(framing, **changes), poll_interval_s=0.01)
    eventually(lambda: len(watch.readings) >= 3, within_s=10.0)
    assert [r.value for r in watch.readings] == [pytest.approx(value, rel=1e-7)] * len(
        watch.readings
    )
    assert reader.state is LinkState.LIVE


def test_the_peers_status_and_exceptions_are_faults(server, read):
    url, framing = server
    status = {"address": 1, "codes": {"0": "good", "1": "overload"}}
    made = driver(framing, function=4, type="int16", status=status)
    reader, watch = read(url, driver=made, poll_interval_s=0.01)
    eventually(lambda: len(watch.faults) >= 3, within_s=10.0)
    assert {fault.kind for fault in watch.faults} == {FaultKind.OVER_RANGE}
    reader.stop()
    made = driver(framing, address=500)
    _, watch = read(url, driver=made, poll_interval_s=0.01)
    eventually(lambda: [f for f in watch.faults if f.kind is FaultKind.DEVICE_ERROR], within_s=10.0)
    assert "exception 2: it has no such register" in watch.faults[-1].detail


def test_a_hundred_polls_without_a_fault(server, read):
    url, framing = server
    reader, watch = read(url, driver=driver(framing), poll_interval_s=0.005)
    eventually(lambda: len(watch.readings) >= 100, within_s=15.0)
    assert watch.faults == []
    assert reader.statistics.answer_s < 0.2


# --- RFC 2217 ------------------------------------------------------------------------------------

# pySerial 3.5 still calls Thread.setDaemon and setName.
old_words = pytest.mark.filterwarnings("ignore:set(Daemon|Name):DeprecationWarning")


class PortServer:
    """pySerial's own RFC 2217 server around a loop-back port, and a device's frames in front of it.

    The port must have modem lines, so it is ``loop://``: what the server writes to it comes back.
    """

    def __init__(self, frame):
        self.port = serial.serial_for_url("loop://", timeout=0.02)
        self._frame = frame
        self._stop = threading.Event()
        self._listener = socket.create_server(("127.0.0.1", 0))
        self._listener.settimeout(0.1)
        self.url = f"rfc2217://127.0.0.1:{self._listener.getsockname()[1]}"
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()
        self.asked = b""

    def _serve(self):
        while not self._stop.is_set():
            try:
                connection, _ = self._listener.accept()
            except TimeoutError:
                continue
            with connection:
                self._talk(connection)

    def _talk(self, connection):
        connection.settimeout(0.01)
        lock = threading.Lock()

        class Writer:
            def write(self, data):
                with lock:
                    connection.sendall(data)

        try:
            manager = PortManager(self.port, Writer())
        except OSError:
            return
        sent = 0.0
        while not self._stop.is_set():
            try:
                data = connection.recv(1024)
                if not data:
                    return
                self.asked += b"".join(manager.filter(data))
            except TimeoutError:
                pass
            except OSError:
                return
            if time.perf_counter() - sent > 0.02:
                sent = time.perf_counter()
                try:
                    Writer().write(b"".join(manager.escape(self._frame)))
                except OSError:
                    return

    def close(self):
        self._stop.set()
        self._thread.join(2.0)
        self._listener.close()
        self.port.close()


@pytest.fixture
def port_server():
    made = []

    def start(frame):
        made.append(PortServer(frame))
        return made[-1]

    yield start
    for server in made:
        server.close()


@old_words
def test_a_port_on_the_network_is_read_and_set(port_server, read):
    """Line settings reach the far end; what is sent arrives."""
    server = port_server(GOOD)
    settings = LineSettings(2400, 7, "E")
    reader, watch = read(server.url, connect=lambda: open_transport(server.url, settings))
    eventually(lambda: len(watch.readings) >= 5, within_s=10.0)
    port = server.port
    assert (port.baudrate, port.bytesize, port.parity) == (2400, 7, "E")
    reader.send("tare")
    eventually(lambda: server.asked.endswith(b"T\r\n"))


@old_words
def test_a_device_behind_it_is_found_and_nothing_is_sent(port_server):
    server = port_server(GOOD)
    (heard,) = Search(server.url, usable()[0], 0.5).run(LineSettings(2400, 7, "E"))
    assert heard.matches[0].profile.id == "scale-status-first"
    assert server.port.baudrate == 2400
    assert server.asked == b""


@old_words
def test_bytes_that_the_protocol_escapes(port_server, read):
    """0xFF is a command on such a line; it must arrive once, as data."""
    packet = b"\x02S+00123.45 g\x03#"
    server = port_server(b"\xff\xff" + packet)
    reader, watch = read(server.url, "scale-xor-after-end")
    eventually(lambda: len(watch.readings) >= 5, within_s=10.0)
    assert b"\xff\xff\x02" in reader.raw_log.tail()
    assert b"\xff\xff\xff" not in reader.raw_log.tail()


# --- socat ---------------------------------------------------------------------------------------


@pty_only
@pytest.mark.skipif(shutil.which("socat") is None, reason="socat is not installed")
def test_a_pair_of_ports_made_by_socat(tmp_path, read):
    ends = [tmp_path / "ours", tmp_path / "theirs"]
    words = [f"pty,raw,echo=0,link={end}" for end in ends]
    peer = Peer("socat", *words)
    try:
        eventually(lambda: all(end.exists() for end in ends))
        reader, watch = read(str(ends[0]), connect=lambda: open_transport(str(ends[0]), _LINE))
        device = serial.Serial(str(ends[1]), timeout=0.1)
        # What is sent before the port is open is nobody's.
        eventually(lambda: reader.state is LinkState.SILENT)
        for _ in range(20):
            device.write(GOOD)
        eventually(lambda: len(watch.readings) == 20)
        device.timeout = 10.0
        reader.send("tare")
        assert device.read(3) == b"T\r\n"
        device.close()
    finally:
        peer.close()
    eventually(lambda: reader.state is LinkState.LOST)


_LINE = LineSettings(9600)
