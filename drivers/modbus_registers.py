"""Transducers that hold their value in Modbus registers, read over a serial line or over TCP.

Messages are those of the MODBUS Application Protocol V1.1b3 (6.3, 6.4, 7); decoding them is the
work of the ``pymodbus`` message classes, used without its client. The standard defines no type
wider than a register, so the word order is an option: the letters say in which order the bytes of
the value, A the highest, come on the wire.
"""

import math
import struct
from collections.abc import Mapping
from typing import Any, ClassVar

from pymodbus.pdu import DecodePDU

from benchstation.driver_api.contract import Driver, DriverInfo, FrameCounts, OptionSpec
from benchstation.driver_api.options import Options, channel_from
from benchstation.driver_api.reading import Fault, FaultKind, Item, Quantity, Reading
from drivers.modbus_frames import (
    HIGHEST_SERIAL_DEVICE,
    HIGHEST_TCP_DEVICE,
    Frames,
    RtuFrames,
    Span,
    TcpFrames,
)

_TYPES = {"int16": ">h", "uint16": ">H", "int32": ">i", "uint32": ">I", "float32": ">f"}
_ORDERS: dict[int, dict[str, tuple[int, ...]]] = {
    2: {"AB": (0, 1), "BA": (1, 0)},
    4: {"ABCD": (0, 1, 2, 3), "CDAB": (2, 3, 0, 1), "BADC": (1, 0, 3, 2), "DCBA": (3, 2, 1, 0)},
}
_STATUS = {
    "good": None,
    "overload": FaultKind.OVER_RANGE,
    "underload": FaultKind.UNDER_RANGE,
    "error": FaultKind.DEVICE_ERROR,
}
_MOST_REGISTERS = 125
_EXCEPTIONS = {
    1: "it does not know the function",
    2: "it has no such register",
    3: "it refuses the request's values",
    4: "it failed",
    6: "it is busy",
}


class ModbusRegistersDriver(Driver):
    """One channel out of one or two registers, with an optional status register, on request."""

    info: ClassVar[DriverInfo] = DriverInfo(
        id="modbus_registers",
        title="Modbus registers over a serial line or TCP",
        quantities=tuple(Quantity),
        options=(
            OptionSpec(
                "channel", "name, quantity, reference, low, high, resolution", required=True
            ),
            OptionSpec("framing", "rtu, a serial line (default), or tcp"),
            OptionSpec("device", "address, 1 to 247; with tcp 0 to 255", required=True),
            OptionSpec("function", "3 holding registers, 4 input registers", required=True),
            OptionSpec("address", "first register of the value, from 0", required=True),
            OptionSpec("type", ", ".join(_TYPES), required=True),
            OptionSpec("order", "order of the bytes: AB, BA or ABCD, CDAB, BADC, DCBA"),
            OptionSpec("unit", "unit text of the value", required=True),
            OptionSpec("factor", "SI value of one unit of the register", required=True),
            OptionSpec("offset", "SI value at register zero"),
            OptionSpec(
                "status", "{address, mask, codes}: number -> good, overload, underload, error"
            ),
        ),
    )

    def __init__(self, options: Mapping[str, Any]) -> None:
        take = Options(options, self.info.id)
        self.channels = (channel_from(take),)
        self.capabilities = frozenset()
        self.counts = FrameCounts()
        tcp = take.choice("framing", ("rtu", "tcp"), "rtu") == "tcp"
        lowest, highest = (0, HIGHEST_TCP_DEVICE) if tcp else (1, HIGHEST_SERIAL_DEVICE)
        device = take.integer("device", lowest, highest)
        function = take.integer("function", 3, 4)
        address = take.integer("address", 0, 0xFFFF)
        self._format = _TYPES[take.choice("type", tuple(_TYPES))]
        self._whole_numbers = self._format != ">f"
        size = struct.calcsize(self._format)
        orders = _ORDERS[size]
        self._order = orders[take.choice("order", tuple(orders), next(iter(orders)))]
        self._unit = take.text("unit", longest=16)
        self._factor = take.number("factor", 1e-12, 1e12)
        self._offset = take.number("offset", -1e12, 1e12, 0.0)
        self._status_codes: dict[int, str] = {}
        status_address, self._status_mask = address, 0xFFFF
        if "status" in take:
            status_address, self._status_mask, self._status_codes = _status(take.table("status"))
        first = min(address, status_address)
        last = max(address + size // 2 - 1, status_address)
        if last - first >= _MOST_REGISTERS or last > 0xFFFF:
            raise take.refused("address", f"one request reads up to {_MOST_REGISTERS} registers")
        take.finish()
        self._value_at = 2 * (address - first)
        self._status_at = 2 * (status_address - first)
        self._decoder = DecodePDU(is_server=False)
        span = Span(device, function, first, last - first + 1)
        self._frames: Frames = TcpFrames(span) if tcp else RtuFrames(span)

    def poll(self) -> bytes:
        """Return the request for the value and its status."""
        return self._frames.request()

    def reset(self) -> None:
        """Forget half an answer."""
        self._frames.clear()
        self.counts.discarded_bytes = self._frames.discarded

    def feed(self, data: bytes, at: float) -> list[Item]:
        """Return a reading or fault for every answer completed by ``data``.

        An answer with a wrong CRC is a fault; bytes that begin no answer of this device are
        discarded and counted.
        """
        items = [self._item(frame, message, at) for frame, message in self._frames.take(data)]
        self.counts.discarded_bytes = self._frames.discarded
        for item in items:
            self._count(item)
        return items

    def _item(self, frame: bytes, message: bytes, at: float) -> Item:
        if not message:
            return Fault(FaultKind.BAD_CHECKSUM, at, frame, "the CRC does not fit the answer")
        answer = self._decoder.decode(message)
        if answer is None or answer.isError():
            code = message[1]
            why = _EXCEPTIONS.get(code, "reason unknown to the standard")
            text = f"the instrument answers with exception {code}: {why}"
            return Fault(FaultKind.DEVICE_ERROR, at, frame, text)
        registers = struct.pack(f">{len(answer.registers)}H", *answer.registers)
        if self._status_codes:
            (status,) = struct.unpack_from(">H", registers, self._status_at)
            meaning = self._status_codes.get(status & self._status_mask, "error")
            kind = _STATUS[meaning]
            if kind is not None:
                return Fault(kind, at, frame, f"the instrument's status is {status}: {meaning}")
        wire = registers[self._value_at : self._value_at + len(self._order)]
        (number,) = struct.unpack(self._format, bytes(wire[i] for i in self._order))
        value = number * self._factor + self._offset
        if not math.isfinite(value):
            return Fault(FaultKind.DEVICE_ERROR, at, frame, "the register holds no number")
        step = self._factor if self._whole_numbers else None
        return Reading(self.channels[0].name, value, at, self._unit, frame, None, step)

    def _count(self, item: Item) -> None:
        self.counts.frames += 1
        if isinstance(item, Reading):
            self.counts.readings += 1
        elif isinstance(item, Fault):
            self.counts.rejected += 1
            kinds = self.counts.by_kind
            kinds[item.kind] = kinds.get(item.kind, 0) + 1


def _status(table: Options) -> tuple[int, int, dict[int, str]]:
    address = table.integer("address", 0, 0xFFFF)
    mask = table.integer("mask", 1, 0xFFFF, 0xFFFF)
    codes = table.table("codes", required=True)
    found = {}
    for name in codes.names():
        if not (name.isascii() and name.isdigit() and int(name) <= 0xFFFF):
            raise codes.refused(name, "a status is a whole number from 0 to 65535")
        found[int(name)] = codes.choice(name, tuple(_STATUS))
    if "good" not in found.values():
        raise table.refused("codes", "none of them is good")
    table.finish()
    return address, mask, found
