"""Modbus servers that are not ours, for tests: of two libraries, over TCP and a pty."""

import asyncio
import contextlib
import ctypes
import ctypes.util
import shutil
import socket
import subprocess
import threading
import warnings
from collections.abc import Iterator, Mapping
from pathlib import Path
from types import MappingProxyType

import pytest

from tests.waiting import eventually

Registers = Mapping[int, int]
NONE: Registers = MappingProxyType({})


def free_port() -> int:
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return found.getsockname()[1]


@contextlib.contextmanager
def serving(make_server) -> Iterator[None]:
    """Run a server made in its own loop until the block ends."""
    loop = asyncio.new_event_loop()
    started = threading.Event()
    held = []

    async def run():
        server = make_server()
        held.append(server)
        started.set()
        with contextlib.suppress(asyncio.CancelledError):
            await server.serve_forever()

    def in_thread():
        with contextlib.suppress(RuntimeError):
            loop.run_until_complete(run())

    thread = threading.Thread(target=in_thread, name="modbus server", daemon=True)
    thread.start()
    assert started.wait(5.0)
    try:
        yield
    finally:
        asyncio.run_coroutine_threadsafe(held[0].shutdown(), loop).result(5.0)
        thread.join(5.0)
        loop.close()


def context(device: int, holding: Registers, inputs: Registers):
    from pymodbus.datastore import ModbusDeviceContext, ModbusServerContext, ModbusSparseDataBlock

    def block(registers):
        return ModbusSparseDataBlock(dict(registers) or {9999: 0})

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        one = ModbusDeviceContext(hr=block(holding), ir=block(inputs))
        return ModbusServerContext(devices={device: one}, single=False)


@contextlib.contextmanager
def tcp_server(
    device: int = 1, *, holding: Registers = NONE, inputs: Registers = NONE
) -> Iterator[str]:
    """Serve at an address with TCP's own frames; gives the url."""
    from pymodbus.server import ModbusTcpServer

    port = free_port()
    held = context(device, holding, inputs)
    with serving(lambda: ModbusTcpServer(held, address=("127.0.0.1", port))):
        eventually(lambda: answers(port))
        yield f"socket://127.0.0.1:{port}"


def answers(port: int) -> bool:
    try:
        socket.create_connection(("127.0.0.1", port), 0.2).close()
    except OSError:
        return False
    return True


@contextlib.contextmanager
def pty_pair(folder: Path) -> Iterator[tuple[str, str]]:
    """Join two pseudo-terminals by socat: what goes in at one comes out at the other."""
    if shutil.which("socat") is None:
        pytest.skip("there is no socat here")
    ours, theirs = folder / "ours", folder / "theirs"
    ends = [f"pty,rawer,link={end}" for end in (ours, theirs)]
    process = subprocess.Popen(["socat", *ends])
    try:
        eventually(lambda: ours.exists() and theirs.exists())
        yield str(ours), str(theirs)
    finally:
        process.terminate()
        process.wait(5.0)


@contextlib.contextmanager
def rtu_server(
    folder: Path, device: int = 1, *, holding: Registers = NONE, inputs: Registers = NONE
) -> Iterator[str]:
    """Serve on a serial line; gives the other end of it."""
    from pymodbus.server import ModbusSerialServer

    held = context(device, holding, inputs)
    with (
        pty_pair(folder) as (ours, theirs),
        serving(lambda: ModbusSerialServer(held, port=theirs, baudrate=19200)),
    ):
        yield ours


class _Mapping(ctypes.Structure):
    """``modbus_mapping_t`` of libmodbus 3.1: its counts, its first addresses, its tables."""

    _fields_ = (
        *((f"n{number}", ctypes.c_int) for number in range(8)),
        ("bits", ctypes.c_void_p),
        ("input_bits", ctypes.c_void_p),
        ("inputs", ctypes.POINTER(ctypes.c_uint16)),
        ("holding", ctypes.POINTER(ctypes.c_uint16)),
    )


@contextlib.contextmanager
def c_rtu_server(folder: Path, device: int, holding: Registers) -> Iterator[str]:
    """Serve on a serial line by the C library; gives the other end of it."""
    name = ctypes.util.find_library("modbus")
    if name is None:
        pytest.skip("there is no libmodbus here")
    library = ctypes.CDLL(name, use_errno=True)
    library.modbus_new_rtu.restype = ctypes.c_void_p
    library.modbus_mapping_new.restype = ctypes.POINTER(_Mapping)
    with pty_pair(folder) as (ours, theirs):
        line = library.modbus_new_rtu(theirs.encode(), 19200, ctypes.c_char(b"N"), 8, 1)
        context_of = ctypes.c_void_p(line)
        assert library.modbus_set_slave(context_of, device) == 0
        assert library.modbus_connect(context_of) == 0
        mapping = library.modbus_mapping_new(0, 0, max(holding) + 1, 0)
        for at, value in holding.items():
            mapping.contents.holding[at] = value
        ended = threading.Event()

        def run():
            asked = (ctypes.c_uint8 * 260)()
            library.modbus_set_indication_timeout(context_of, 0, 100_000)
            while not ended.is_set():
                length = library.modbus_receive(context_of, asked)
                if length > 0:
                    library.modbus_reply(context_of, asked, length, mapping)

        thread = threading.Thread(target=run, name="libmodbus server", daemon=True)
        thread.start()
        try:
            yield ours
        finally:
            ended.set()
            thread.join(5.0)
            library.modbus_close(context_of)
            library.modbus_free(context_of)
