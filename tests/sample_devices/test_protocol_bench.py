"""``bench://NAME`` behaves as a serial port does, without a port."""

import time

import pytest
import serial

from sample_devices.protocol_bench import BUFFER, PACKAGE, BenchPort


class Tape:
    """Returns what is put on it and keeps what it is told."""

    def __init__(self):
        self.waiting = b""
        self.told = []

    def output(self, t):
        data, self.waiting = self.waiting, b""
        return data

    def receive(self, data, t):
        self.told.append((t, data))
        return b"ok"


@pytest.fixture
def tape():
    return Tape()


@pytest.fixture
def bench(tape):
    made = BenchPort("Tape", tape, lambda: 7.0)
    yield made
    made.close()


def opened(bench, **words):
    return serial.serial_for_url(bench.url, **({"timeout": 0.05} | words))


def test_it_is_found_by_url(bench, tape):
    assert bench.url == "bench://tape"
    assert PACKAGE in serial.protocol_handler_packages
    with opened(bench, baudrate=19200, bytesize=7, parity="E", stopbits=2) as port:
        assert port.is_open
        tape.waiting = b"hello"
        assert port.in_waiting == 5
        assert port.read(3) == b"hel"
        assert port.read(port.in_waiting) == b"lo"
        assert port.write(b"W\r\n") == 3
        assert tape.told == [(7.0, b"W\r\n")]
        assert port.read(2) == b"ok"
    assert not port.is_open


def test_lines_and_buffers(bench, tape):
    with opened(bench) as port:
        tape.waiting = b"one\r\ntwo"
        assert port.readline() == b"one\r\n"
        port.reset_input_buffer()
        port.reset_output_buffer()
        port.flush()
        assert port.read(1) == b""


def test_a_read_waits_for_its_timeout_and_no_longer(bench):
    with opened(bench, timeout=0.1) as port:
        start = time.perf_counter()
        assert port.read(10) == b""
        assert 0.1 <= time.perf_counter() - start < 0.2
        port.timeout = 0
        assert port.read(10) == b""


def test_it_is_for_one_program(bench):
    with opened(bench) as port:
        with pytest.raises(serial.SerialException, match="open already") as busy:
            opened(bench)
        assert busy.value.errno == 16
        with pytest.raises(serial.SerialException):
            port.open()
    opened(bench).close()


def test_no_such_name(bench):
    for url in ("bench://nobody", "bench://"):
        with pytest.raises(serial.SerialException) as missing:
            serial.serial_for_url(url)
        assert missing.value.errno == 2


def test_a_name_is_taken_once(bench, tape):
    with pytest.raises(ValueError, match="tape"):
        BenchPort("TAPE", tape, lambda: 0.0)


def test_a_pulled_plug_is_an_error_on_every_use(bench, tape):
    port = opened(bench)
    bench.unplug()
    for use in (lambda: port.read(1), lambda: port.write(b"x"), lambda: port.in_waiting):
        with pytest.raises(serial.SerialException, match="unplugged"):
            use()
    with pytest.raises(serial.SerialException):
        opened(bench)
    bench.replug()
    with pytest.raises(serial.SerialException, match="unplugged"):
        port.read(1)
    with opened(bench) as again:
        tape.waiting = b"back"
        assert again.read(4) == b"back"
        port.close()  # the old handle lets the new one be
        assert again.is_open
        assert again.in_waiting == 0


def test_a_closed_port_cannot_be_used(bench):
    port = opened(bench)
    port.close()
    port.close()
    for use in (lambda: port.read(1), lambda: port.write(b"x"), lambda: port.in_waiting):
        with pytest.raises(serial.PortNotOpenError):
            use()


def test_what_nobody_reads_is_lost_and_not_kept(bench, tape):
    with opened(bench) as port:
        for _ in range(10):
            tape.waiting = b"x" * 1000
            assert port.in_waiting <= BUFFER
        assert len(port.read(100_000)) == BUFFER


def test_line_settings_change_nothing(bench):
    with opened(bench) as port:
        port.baudrate = 115_200
        port.rts = port.dtr = False
        assert port.baudrate == 115_200
