"""Virtual thermometers, a barometer and a hygrometer: they measure the bench model's true air."""

import math
import struct

from sample_devices.bench_model import BenchModel
from sample_devices.ticking import TickingDevice
from sample_devices.transducer import modbus_crc

KELVIN = 273.15
HPA = 100.0
REGISTERS_DEVICE = 2


class VirtualThermometer(TickingDevice):
    """Measures the room, or a unit's surface, with the lag of its probe.

    ``shape`` is text that streams, text on request, or Modbus registers. ``offset_k`` is what it is
    off by; ``broken`` is a probe that is cut.
    """

    SHAPES = ("thermometer-value-unit", "surface-thermometer-request", "thermometer-registers")

    def __init__(
        self,
        model: BenchModel,
        shape: str = "thermometer-value-unit",
        *,
        on_unit: bool = False,
        rate_hz: float = 2.0,
        noise_k: float = 0.01,
        offset_k: float = 0.0,
        lag_s: float = 8.0,
    ) -> None:
        if shape not in self.SHAPES:
            raise ValueError(f"no such frame shape: {shape}")
        super().__init__(model, rate_hz)
        self.shape = shape
        self.on_unit = on_unit
        self.noise_k = noise_k
        self.offset_k = offset_k
        self.lag_s = lag_s
        self.broken = False
        self._probe_k = self._true_k()
        self._shown_k = self._probe_k
        self._input = b""

    @property
    def streams(self) -> bool:
        """Return True when it sends by itself."""
        return self.shape == "thermometer-value-unit"

    def _true_k(self) -> float:
        return self.model.body_k if self.on_unit else self.model.air_k

    def _measure(self) -> None:
        share = 1 - math.exp(-self.interval_s / self.lag_s)
        self._probe_k += (self._true_k() - self._probe_k) * share
        noise = self.model.random.gauss(0.0, self.noise_k)
        self._shown_k = self._probe_k + self.offset_k + noise

    def frame(self) -> bytes:
        """Return the line of the reading now."""
        celsius = self._shown_k - KELVIN
        if self.shape == "thermometer-value-unit":
            sign = "-" if celsius < 0 else "+"
            return b"OPEN\r\n" if self.broken else b"%s%06.2f C\r\n" % (sign.encode(), abs(celsius))
        return b"T1 ----\r" if self.broken else b"T1 %6.1fC\r" % (round(celsius, 1) + 0.0)

    def receive(self, data: bytes, t: float) -> bytes:
        """Take requests; give the answers."""
        self._input = (self._input + data)[-256:]
        if self.shape == "surface-thermometer-request":
            *asked, self._input = self._input.split(b"\r")
            return b"".join(self.frame() for line in asked if line == b"R")
        if self.shape == "thermometer-registers":
            return self._registers()
        self._input = b""
        return b""

    def _registers(self) -> bytes:
        answers = b""
        while len(self._input) >= 8:
            frame = self._input[:8]
            if frame[0] != REGISTERS_DEVICE or modbus_crc(frame[:6]) != frame[6:]:
                self._input = self._input[1:]
                continue
            self._input = self._input[8:]
            answers += self._answer(frame[1], *struct.unpack(">HH", frame[2:6]))
        return answers

    def _answer(self, function: int, first: int, count: int) -> bytes:
        tenths = 0 if self.broken else round(10.0 * (self._shown_k - KELVIN))
        held = struct.pack(">hH", tenths, int(self.broken))
        if function != 4:
            body = bytes((REGISTERS_DEVICE, function | 0x80, 1))
        elif count < 1 or first + count > 2:
            body = bytes((REGISTERS_DEVICE, function | 0x80, 2))
        else:
            part = held[2 * first : 2 * (first + count)]
            body = bytes((REGISTERS_DEVICE, function, len(part))) + part
        return body + modbus_crc(body)


class VirtualBarometer(TickingDevice):
    """Streams the pressure of the room, above vacuum."""

    streams = True

    def __init__(
        self,
        model: BenchModel,
        *,
        rate_hz: float = 1.0,
        noise_pa: float = 3.0,
        offset_pa: float = 0.0,
    ) -> None:
        super().__init__(model, rate_hz)
        self.noise_pa = noise_pa
        self.offset_pa = offset_pa
        self.broken = False
        self._shown_pa = model.air_pa

    def _measure(self) -> None:
        noise = self.model.random.gauss(0.0, self.noise_pa)
        self._shown_pa = self.model.air_pa + self.offset_pa + noise

    def frame(self) -> bytes:
        """Return the line of the reading now."""
        return (
            b"P ----.-- hPa \r\n" if self.broken else b"P %7.2f hPa \r\n" % (self._shown_pa / HPA)
        )

    def receive(self, data: bytes, t: float) -> bytes:
        """Take bytes; it answers none."""
        return b""


class VirtualClimate(TickingDevice):
    """Streams temperature and humidity of the room in one line."""

    streams = True

    def __init__(self, model: BenchModel, *, rate_hz: float = 1.0) -> None:
        super().__init__(model, rate_hz)
        self.dry = False
        """Whether its humidity sensor has failed."""
        self._values = (0.0, 0.0)

    def _measure(self) -> None:
        self._values = (self.model.air_k - KELVIN, 100.0 * self.model.air_humidity)

    def frame(self) -> bytes:
        """Return the line of the readings now."""
        celsius, percent = self._values
        sign = b"-" if celsius < 0 else b"+"
        humidity = b"-----" if self.dry else b"%5.1f" % percent
        return b"T %s%06.2f C; H %s %%\r\n" % (sign, abs(celsius), humidity)

    def receive(self, data: bytes, t: float) -> bytes:
        """Take bytes; it answers none."""
        return b""


class VirtualHygrometer(TickingDevice):
    """Streams the relative humidity of the room."""

    streams = True

    def __init__(
        self, model: BenchModel, *, rate_hz: float = 1.0, noise: float = 0.002, offset: float = 0.0
    ) -> None:
        super().__init__(model, rate_hz)
        self.noise = noise
        self.offset = offset
        self.broken = False
        self._shown = model.air_humidity

    def _measure(self) -> None:
        shown = self.model.air_humidity + self.offset + self.model.random.gauss(0.0, self.noise)
        self._shown = min(1.0, max(0.0, shown))

    def frame(self) -> bytes:
        """Return the line of the reading now."""
        return b"RH ERR\r\n" if self.broken else b"RH %5.1f %%\r\n" % (100.0 * self._shown)

    def receive(self, data: bytes, t: float) -> bytes:
        """Take bytes; it answers none."""
        return b""
