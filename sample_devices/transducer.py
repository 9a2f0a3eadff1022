"""A virtual pressure gauge: noise, resolution, range, in text shapes and Modbus registers."""

import struct

from sample_devices.bench_model import BenchModel
from sample_devices.ticking import TickingDevice

SHAPES = ("gauge-value-unit", "gauge-bare-number", "pressure-registers")
BAR = 1e5


def modbus_crc(data: bytes) -> bytes:
    """Return the CRC of MODBUS over Serial Line V1.02, 6.2.2, low byte first."""
    crc = 0xFFFF
    for byte in data:
        crc ^= byte
        for _ in range(8):
            crc = (crc >> 1) ^ 0xA001 if crc & 1 else crc >> 1
    return crc.to_bytes(2, "little")


class VirtualTransducer(TickingDevice):
    """Return it time and bytes; it gives bytes."""

    def __init__(
        self,
        model: BenchModel,
        shape: str = "gauge-value-unit",
        *,
        rate_hz: float = 10.0,
        noise_pa: float = 150.0,
        range_pa: float = 40e5,
        offset_pa: float = 0.0,
    ) -> None:
        if shape not in SHAPES:
            raise ValueError(f"no such frame shape: {shape}")
        super().__init__(model, rate_hz)
        self.shape = shape
        self.noise_pa = noise_pa
        self.range_pa = range_pa
        self.offset_pa = offset_pa
        self.gain = 1.0
        """What it makes of a true pressure; a span that drifted is off by a share."""
        self.sensor_fault = False
        self.frozen = False
        """It goes on sending the last value that it measured."""
        self.connected = True
        """Screwed into the fill line; else it measures the open air."""
        self.decimals = 3
        self._gauge_pa = 0.0
        self._input = b""

    @property
    def streams(self) -> bool:
        """Return True when it sends by itself."""
        return self.shape == "gauge-value-unit"

    @property
    def shown_gauge_pa(self) -> float:
        """Return the last measured value."""
        return self._gauge_pa

    def _measure(self) -> None:
        if self.frozen:
            return
        noise = self.model.random.gauss(0.0, self.noise_pa)
        line_pa = self.model.line_gauge_pa if self.connected else 0.0
        self._gauge_pa = self.gain * line_pa + self.offset_pa + noise

    def frame(self) -> bytes:
        """Return the line of the reading now."""
        if self.sensor_fault:
            return b"ERR\r\n"
        if self._gauge_pa > self.range_pa:
            return b"+OL\r\n"
        value = round(self._gauge_pa / BAR, self.decimals)
        sign = "-" if value < 0 else "+"
        return f"{sign}{abs(value):07.{self.decimals}f} bar\r\n".encode("ascii")

    def receive(self, data: bytes, t: float) -> bytes:
        """Take requests; give the answers."""
        self._input = (self._input + data)[-256:]
        if self.shape == "gauge-bare-number":
            *asked, self._input = self._input.split(b"\r")
            return b"".join(self._bare() for line in asked if line == b"P")
        if self.shape == "pressure-registers":
            return self._registers()
        self._input = b""
        return b""

    def _bare(self) -> bytes:
        if self.sensor_fault or self._gauge_pa > self.range_pa:
            return b"E02\r"
        return f"{round(self._gauge_pa / BAR, 3) + 0.0:.3f}\r".encode("ascii")

    def _registers(self) -> bytes:
        answers = b""
        while len(self._input) >= 8:
            frame = self._input[:8]
            if frame[0] != 1 or modbus_crc(frame[:6]) != frame[6:]:
                self._input = self._input[1:]
                continue
            self._input = self._input[8:]
            function, (first, count) = frame[1], struct.unpack(">HH", frame[2:6])
            answers += self._answer(function, first, count)
        return answers

    def _answer(self, function: int, first: int, count: int) -> bytes:
        status = 2 if self.sensor_fault else 1 if self._gauge_pa > self.range_pa else 0
        registers = struct.pack(">f", self._gauge_pa / BAR) + struct.pack(">H", status)
        if function not in (3, 4):
            body = bytes((1, function | 0x80, 1))
        elif count < 1 or first + count > 3:
            body = bytes((1, function | 0x80, 2))
        else:
            part = registers[2 * first : 2 * (first + count)]
            body = bytes((1, function, len(part))) + part
        return body + modbus_crc(body)
