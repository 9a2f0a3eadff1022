"""A virtual scale: filter, noise, steps, motion flag, tare and zero, in several frame shapes."""

import math

from sample_devices.bench_model import BenchModel
from sample_devices.ticking import TickingDevice

GRAMS = 1e3
FRAMES = ("scale-status-first", "scale-mark-while-moving", "scale-unit-when-stable",
          "scale-request-reply")  # fmt: skip
MOTION_STEPS = 3.0
POUNDS = 0.45359237


class VirtualScale(TickingDevice):
    """Takes time and bytes, gives bytes. Streams at ``rate_hz`` unless its shape is asked."""

    def __init__(
        self,
        model: BenchModel,
        shape: str = "scale-status-first",
        *,
        rate_hz: float = 10.0,
        resolution_kg: float = 1e-5,
        filter_s: float = 0.15,
        noise_kg: float = 1.5e-5,
        capacity_kg: float = 6.2,
    ) -> None:
        if shape not in FRAMES:
            raise ValueError(f"no such frame shape: {shape}")
        super().__init__(model, rate_hz)
        self.shape = shape
        self.resolution_kg = resolution_kg
        self.filter_s = filter_s
        self.noise_kg = noise_kg
        self.capacity_kg = capacity_kg
        self.unit = "g"
        self.frozen = False
        self.gain = 1.0
        """What it makes of a true mass; a damaged load cell is off by a share."""
        self._last = b""
        self._filtered = model.pan_load_kg()
        self._tare = 0.0
        self._zero = 0.0
        self._recent: list[float] = []
        self._input = b""

    @property
    def streams(self) -> bool:
        """Return True when it sends by itself."""
        return self.shape != "scale-request-reply"

    @property
    def shown_kg(self) -> float:
        """Return what the display shows, net."""
        net = self._filtered - self._zero - self._tare
        return round(net / self.resolution_kg) * self.resolution_kg

    def moving(self) -> bool:
        """Return True when the last readings differ by more than a few steps."""
        if len(self._recent) < 3:
            return True
        return max(self._recent) - min(self._recent) > MOTION_STEPS * self._band()

    def _band(self) -> float:
        return max(self.resolution_kg, 3 * self.noise_kg)

    def _measure(self) -> None:
        load = self.gain * (self.model.pan_load_kg() + self.model.pressed_kg)
        share = 1 - math.exp(-self.interval_s / self.filter_s)
        self._filtered += (load - self._filtered) * share
        self._filtered += self.model.random.gauss(0.0, self.noise_kg)
        self._recent = [*self._recent[-4:], self._filtered]

    def receive(self, data: bytes, t: float) -> bytes:
        """Take commands and requests; give what the shape answers."""
        self._input = (self._input + data)[-64:]
        *lines, self._input = self._input.split(b"\r\n")
        return b"".join(self._answer(line) for line in lines)

    def _answer(self, line: bytes) -> bytes:
        done = not self.moving()
        if line == b"T" and done:
            self._tare = self._filtered - self._zero
        elif line == b"Z" and done:
            self._zero, self._tare = self._filtered, 0.0
        if self.streams:
            return b""
        if line in (b"T", b"Z"):
            return line + (b" S\r\n" if done else b" I\r\n")
        return self.frame() if line == b"W" else b""

    def frame(self) -> bytes:
        """Return the frame of the reading now."""
        if not self.frozen or not self._last:
            self._last = self._frame().encode("ascii")
        return self._last

    def _frame(self) -> str:
        over = self._filtered - self._zero > self.capacity_kg
        moving = self.moving()
        value = self.shown_kg * (GRAMS if self.unit == "g" else 1 / POUNDS)
        places = max(0, -math.floor(math.log10(self.resolution_kg * GRAMS) + 1e-9))
        places = places if self.unit == "g" else places + 3
        value = round(value, places) + 0.0
        net = "NT" if self._tare else "GS"
        if self.shape == "scale-status-first":
            status = "OL" if over else "US" if moving else "ST"
            sign = "-" if value < 0 else "+"
            return f"{status},{net},{sign}{abs(value):08.{places}f}{self.unit:>3}\r\n"
        sign = "-" if value < 0 else " "
        number = "^" * 9 if over else f"{abs(value):9.{places}f}"
        if self.shape == "scale-mark-while-moving":
            mark = "?" if moving and not over else " "
            return f"{' ' if over else sign}{number} {self.unit:<2}{mark}\r\n"
        if self.shape == "scale-unit-when-stable":
            unit = "" if moving or over else self.unit
            return f"{' ' if over else sign}{number} {unit:<5}\r\n"
        if over:
            return "W +\r\n"
        return f"W {'D' if moving else 'S'} {value:10.{places}f} {self.unit}\r\n"
