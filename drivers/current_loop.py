"""Pressure or temperature transmitters read through an A/D converter: 4 to 20 mA, volts, ratios.

The converter speaks lines of text or Modbus registers, read by those drivers; what it measured, in
amperes or volts, becomes the transmitter's value by its range. Classes of failure are those of
NAMUR NE 43: a signal outside its measuring band is a fault and never a value. Corrections beyond
the range are the calibration's, not this driver's.
"""

from collections.abc import Mapping
from typing import Any, ClassVar

from benchstation.driver_api.contract import Driver, DriverInfo, FrameCounts, OptionSpec
from benchstation.driver_api.current_loop import (
    LoopSignal,
    Signal,
    classify_current,
    value_of_current,
)
from benchstation.driver_api.options import Options, channel_from
from benchstation.driver_api.reading import Fault, FaultKind, Item, Quantity, Reading
from drivers.modbus_registers import ModbusRegistersDriver
from drivers.text_line import TextLineDriver

_SOURCES: dict[str, type[Driver]] = {
    "text_line": TextLineDriver,
    "modbus_registers": ModbusRegistersDriver,
}
_FAULTS = {
    LoopSignal.FAILURE_LOW: FaultKind.DEVICE_ERROR,
    LoopSignal.UNDEFINED_LOW: FaultKind.UNDER_RANGE,
    LoopSignal.UNDEFINED_HIGH: FaultKind.OVER_RANGE,
    # A transmitter that fails high and one that is driven past its end look the same from here.
    LoopSignal.FAILURE_HIGH: FaultKind.OVER_RANGE,
}


class CurrentLoopDriver(Driver):
    """One transmitter behind a converter."""

    info: ClassVar[DriverInfo] = DriverInfo(
        id="current_loop",
        title="Transmitter behind an A/D converter: 4 to 20 mA, volts, ratio of the supply",
        quantities=(Quantity.PRESSURE, Quantity.TEMPERATURE),
        options=(
            OptionSpec(
                "channel", "name, quantity, reference, low, high, resolution", required=True
            ),
            OptionSpec(
                "source",
                "driver: text_line or modbus_registers, and its options; its SI unit is A or V",
                required=True,
            ),
            OptionSpec(
                "signal",
                "kind: current (4 to 20 mA), voltage {zero, full} in V, or ratiometric "
                "{zero, full, supply}; dead_zero = true where nothing tells a broken wire",
                required=True,
            ),
            OptionSpec("range", "{low, high}: SI value at 0 and at 100 %", required=True),
        ),
    )

    def __init__(self, options: Mapping[str, Any]) -> None:
        take = Options(options, self.info.id)
        self.channels = (channel_from(take),)
        self.counts = FrameCounts()
        if self.channels[0].quantity not in self.info.quantities:
            raise take.refused("channel", "a transmitter gives pressure or temperature")
        self._signal, self._scale, quantity = _signal(take.table("signal", required=True))
        span = take.table("range", required=True)
        self._low = span.number("low", -1e12, 1e12)
        self._high = span.number("high", -1e12, 1e12)
        if self._high <= self._low:
            raise span.refused("high", "it must lie above 'low'")
        span.finish()
        source = take.table("source", required=True)
        made = _SOURCES[source.choice("driver", tuple(_SOURCES))]
        self._source = made({**source.rest(), "channel": {"quantity": quantity}})
        take.finish()
        self.capabilities = self._source.capabilities
        self.speaks = self._source.speaks
        self._per_signal = self._scale * (self._high - self._low)
        self._per_signal /= self._signal.full - self._signal.zero

    def hello(self) -> bytes | None:
        """Return what the converter's driver asks."""
        return self._source.hello()

    def poll(self) -> bytes | None:
        """Return the converter's request, or ``None`` when it streams."""
        return self._source.poll()

    def command(self, name: str) -> bytes:
        """Return the converter's command."""
        return self._source.command(name)

    def reset(self) -> None:
        """Forget half a frame."""
        self._source.reset()
        self.counts.discarded_bytes = self._source.counts.discarded_bytes

    def feed(self, data: bytes, at: float) -> list[Item]:
        """Return a reading or fault for every frame of the converter."""
        items = [
            self._value(item) if isinstance(item, Reading) else item
            for item in self._source.feed(data, at)
        ]
        self.counts.note(items, len(items), self._source.counts.discarded_bytes)
        return items

    def _value(self, shown: Reading) -> Item:
        current_a = self._signal.as_current_a(shown.value * self._scale)
        value = value_of_current(current_a, self._low, self._high)
        if value is None:
            signal = classify_current(current_a)
            why = f"the transmitter's signal is {signal}"
            return Fault(_FAULTS[signal], shown.at, shown.raw, why)
        step = None if shown.resolution is None else shown.resolution * self._per_signal
        return Reading(
            self.channels[0].name,
            value + 0.0,
            shown.at,
            shown.unit,
            shown.raw,
            shown.stable,
            step,
            shown.net,
        )


def _signal(table: Options) -> tuple[Signal, float, Quantity]:
    """Take the signal: its ends, what a measured A or V is multiplied with, and what is measured.

    The ends of a ratiometric signal are shares of the supply.
    """
    kind = table.choice("kind", ("current", "voltage", "ratiometric"))
    dead_zero = table.flag("dead_zero")
    if kind == "current":
        table.finish()
        return Signal(), 1.0, Quantity.CURRENT
    most = 1.0 if kind == "ratiometric" else 1000.0
    signal = Signal(table.number("zero", 0.0, most), table.number("full", 0.0, most))
    scale = 1.0 / table.number("supply", 0.1, 1000.0) if kind == "ratiometric" else 1.0
    if signal.full <= signal.zero:
        raise table.refused("full", "it must lie above 'zero'")
    if not (signal.has_live_zero or dead_zero):
        why = "a broken wire would read as the lowest value; say dead_zero = true to accept that"
        raise table.refused("zero", why)
    table.finish()
    return signal, scale, Quantity.VOLTAGE
