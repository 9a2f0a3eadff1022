"""``bench://NAME``: a pySerial URL that reaches a virtual device in this process.

pySerial looks for ``protocol_bench`` in the packages of ``serial.protocol_handler_packages``;
importing this module puts ``sample_devices`` among them. So the station's own transport runs on
every system, also where there are no pseudo-terminals, and no thread is needed: the device is moved
on whenever its port is read.
"""

import errno
import threading
import time
from collections.abc import Callable
from typing import Any
from urllib.parse import urlsplit

import serial
from serial.serialutil import PortNotOpenError, SerialBase, SerialException, to_bytes

from sample_devices.host import TICK_S, Device

PACKAGE = "sample_devices"
BUFFER = 4096
"""Bytes a port holds for a program that does not read; what comes then is lost, as on a line."""

if PACKAGE not in serial.protocol_handler_packages:
    serial.protocol_handler_packages.append(PACKAGE)

_ports: dict[str, "BenchPort"] = {}
_ports_lock = threading.Lock()


class BenchPort:
    """A device that can be reached at ``bench://NAME`` until it is closed."""

    def __init__(self, name: str, device: Device, clock: Callable[[], float]) -> None:
        self.name = name.lower()
        self.url = f"bench://{self.name}"
        self._device = device
        self._clock = clock
        self._lock = threading.Lock()
        self._held: object | None = None
        self._plugged = False
        self._waiting = b""
        self.levels: list[tuple[float, str, bool]] = []
        """Every setting of an output line: when, ``rts`` or ``dtr``, and whether energised."""
        with _ports_lock:
            if self.name in _ports:
                raise ValueError(f"there is a bench port '{self.name}' already")
            _ports[self.name] = self
        self.replug()

    def unplug(self) -> None:
        """Pull the plug: whoever has the port open gets an error."""
        with self._lock:
            self._plugged = False
            self._waiting = b""

    def replug(self) -> None:
        """Put the plug in; the port must be opened anew."""
        with self._lock:
            if not self._plugged:
                self._plugged, self._held = True, None

    def close(self) -> None:
        """End it."""
        self.unplug()
        with _ports_lock:
            _ports.pop(self.name, None)

    def hold(self, holder: object) -> None:
        """Open the port for one holder."""
        with self._lock:
            if not self._plugged:
                raise SerialException(errno.ENOENT, f"no device at {self.url}")
            if self._held is not None:
                raise SerialException(errno.EBUSY, f"{self.url} is open already")
            self._held = holder
            self._waiting = b""

    def release(self, holder: object) -> None:
        """Close the port."""
        with self._lock:
            if self._held is holder:
                self._held = None

    def waiting(self, holder: object) -> int:
        """Move the device on and give how many bytes can be read."""
        with self._lock:
            self._demand(holder)
            self._take(self._device.output(self._clock()))
            return len(self._waiting)

    def take(self, holder: object, size: int) -> bytes:
        """Move the device on and give up to ``size`` bytes."""
        self.waiting(holder)
        with self._lock:
            data, self._waiting = self._waiting[:size], self._waiting[size:]
            return data

    def give(self, holder: object, data: bytes) -> None:
        """Hand bytes to the device."""
        with self._lock:
            self._demand(holder)
            now = self._clock()
            self._take(self._device.output(now))
            self._take(self._device.receive(data, now))

    def drop(self, holder: object) -> None:
        """Throw away what waits to be read."""
        with self._lock:
            self._demand(holder)
            self._waiting = b""

    def set_level(self, holder: object, line: str, energised: bool) -> None:
        """Take note of an output line."""
        with self._lock:
            self._demand(holder)
            self.levels.append((self._clock(), line, energised))

    def level(self, line: str) -> bool:
        """Return True when a line is energised; a port that nobody holds open energises none."""
        with self._lock:
            last = next((on for _, name, on in reversed(self.levels) if name == line), False)
            return self._held is not None and last

    def _take(self, data: bytes) -> None:
        self._waiting = (self._waiting + data)[:BUFFER]

    def _demand(self, holder: object) -> None:
        if not self._plugged or self._held is not holder:
            raise SerialException(errno.EIO, f"{self.url} was unplugged")


class Serial(SerialBase):  # type: ignore[misc]
    """What pySerial makes of a ``bench://`` URL. Line settings are taken and mean nothing."""

    BAUDRATES = SerialBase.BAUDRATES

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        self._bench: BenchPort | None = None
        self.is_open = False
        super().__init__(*args, **kwargs)

    def open(self) -> None:
        """Open the port; raises ``SerialException`` where there is none or it is open already."""
        if self.is_open:
            raise SerialException("the port is open already")
        parts = urlsplit(self.port or "")
        with _ports_lock:
            bench = _ports.get(parts.netloc.lower())
        if parts.scheme != "bench" or bench is None:
            raise SerialException(errno.ENOENT, f"no device at {self.port}")
        bench.hold(self)
        self._bench = bench
        self.is_open = True
        self._update_rts_state()
        self._update_dtr_state()

    def close(self) -> None:
        """Close the port."""
        self.is_open = False
        if self._bench is not None:
            self._bench.release(self)
            self._bench = None

    @property
    def in_waiting(self) -> int:
        """Return the bytes that can be read at once."""
        return self._open_bench().waiting(self)

    def read(self, size: int = 1) -> bytes:
        """Return ``size`` bytes, or fewer when the timeout comes first."""
        bench = self._open_bench()
        deadline = None if self.timeout is None else time.perf_counter() + self.timeout
        data = bench.take(self, size)
        while len(data) < size and (deadline is None or time.perf_counter() < deadline):
            time.sleep(TICK_S)
            data += bench.take(self, size - len(data))
        return data

    def write(self, data: Any) -> int:
        """Hand bytes to the device."""
        sent = to_bytes(data)
        self._open_bench().give(self, sent)
        return len(sent)

    def flush(self) -> None:
        """Do nothing: all is sent at once."""

    def reset_input_buffer(self) -> None:
        """Throw away what waits to be read."""
        self._open_bench().drop(self)

    def reset_output_buffer(self) -> None:
        """Do nothing: all is sent at once."""

    def _open_bench(self) -> BenchPort:
        if self._bench is None:
            raise PortNotOpenError()
        return self._bench

    def _reconfigure_port(self) -> None:
        """Take any line settings."""

    def _update_rts_state(self) -> None:
        self._open_bench().set_level(self, "rts", bool(self._rts_state))

    def _update_dtr_state(self) -> None:
        self._open_bench().set_level(self, "dtr", bool(self._dtr_state))
