"""Transducers that hold their value in Modbus registers, read over a serial line or over TCP.

Messages are those of the MODBUS Application Protocol V1.1b3 (6.3, 6.4, 7); decoding them is the
work of the ``pymodbus`` message classes, used without its client. The standard defines no type
wider than a register, so the word order is an option: the letters say in which order the bytes of
the value, A the highest, come on the wire.
"""

import math
import struct
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
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
_FAULTS = {meaning: kind for meaning, kind in _STATUS.items() if kind is not None}
_MOST_REGISTERS = 125
_MOST_DECIMALS = 9
Unit = tuple[float, float, str]
"""Factor, offset and text of a unit: value_si = number * factor + offset."""
_EXCEPTIONS = {
    1: "it does not know the function",
    2: "it has no such register",
    3: "it refuses the request's values",
    4: "it failed",
    6: "it is busy",
}


class ModbusRegistersDriver(Driver):
    """One channel out of one or two registers, with registers of codes beside it, on request."""

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
            OptionSpec("unit", "unit text of the value, where no register says it"),
            OptionSpec("factor", "SI value of one unit of the register; by the unit's name"),
            OptionSpec("offset", "SI value at register zero; by the unit's name"),
            OptionSpec("codes", "the value itself: number -> overload, underload, error"),
            OptionSpec(
                "status", "{address, mask, codes}: number -> good, overload, underload, error"
            ),
            OptionSpec("unit_code", "{address, mask, codes}: number -> a unit of 'units'"),
            OptionSpec("units", "with unit_code: unit text to SI, a factor or {factor, offset}"),
            OptionSpec("decimals", "how many digits of the value stand after its point"),
            OptionSpec("decimals_code", "{address, mask}: a register that says how many"),
        ),
    )

    def __init__(self, options: Mapping[str, Any]) -> None:
        take = Options(options, self.info.id)
        self.channels = (channel_from(take),)
        self.capabilities = frozenset()
        self.counts = FrameCounts()
        self.speaks = take.choice("framing", ("rtu", "tcp"), "rtu")
        tcp = self.speaks == "tcp"
        lowest, highest = (0, HIGHEST_TCP_DEVICE) if tcp else (1, HIGHEST_SERIAL_DEVICE)
        device = take.integer("device", lowest, highest)
        function = take.integer("function", 3, 4)
        address = take.integer("address", 0, 0xFFFF)
        self._format = _TYPES[take.choice("type", tuple(_TYPES))]
        self._whole_numbers = self._format != ">f"
        size = struct.calcsize(self._format)
        orders = _ORDERS[size]
        self._order = orders[take.choice("order", tuple(orders), next(iter(orders)))]
        self._unit: Unit | None = None
        units: dict[str, Unit] = {}
        if "unit_code" in take:
            units = _units(take.table("units", required=True))
        else:
            self._unit = _factor_of(take, take.text("unit", longest=16))
        self._faults = _numbered(take.table("codes"), _FAULTS, signed=True)
        self._decimals = take.integer("decimals", 0, _MOST_DECIMALS, 0)
        self._status = _coded(take, "status", tuple(_STATUS))
        if self._status is not None and "good" not in self._status.codes.values():
            raise take.refused("status", "none of its codes is good")
        self._unit_code = _coded(take, "unit_code", tuple(units))
        self._unit_of = units
        self._decimals_code = _coded(take, "decimals_code", ())
        coded = (self._status, self._unit_code, self._decimals_code)
        others = [register.address for register in coded if register is not None]
        first = min(address, *others, address)
        last = max(address + size // 2 - 1, *others, address)
        if last - first >= _MOST_REGISTERS or last > 0xFFFF:
            raise take.refused("address", f"one request reads up to {_MOST_REGISTERS} registers")
        take.finish()
        self._first = first
        self._value_at = 2 * (address - first)
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
        self.counts.note(items, len(items), self._frames.discarded)
        return items

    def _item(self, frame: bytes, message: bytes, at: float) -> Item:
        if not message:
            return Fault(FaultKind.BAD_CHECKSUM, at, frame, "the CRC does not fit the answer")
        answer = self._decoder.decode(message)
        if answer is None or answer.isError():
            code = message[1]
            why = _EXCEPTIONS.get(code, "reason unknown to the standard")
            text = f"the instrument answers with exception {code}: {why}"
            # The function is not the one that was asked for.
            place = len(frame) - len(message) if self.speaks == "tcp" else 1
            return Fault(FaultKind.DEVICE_ERROR, at, frame, text, place)
        held = answer.registers
        if self._status is not None:
            status = self._status.of(held, self._first)
            meaning = self._status.codes.get(status, "error")
            kind = _STATUS[meaning]
            if kind is not None:
                return Fault(kind, at, frame, f"the instrument's status is {status}: {meaning}")
        registers = struct.pack(f">{len(held)}H", *held)
        wire = registers[self._value_at : self._value_at + len(self._order)]
        (number,) = struct.unpack(self._format, bytes(wire[i] for i in self._order))
        if number in self._faults:
            meaning = self._faults[number]
            return Fault(_FAULTS[meaning], at, frame, f"the instrument reports {meaning}")
        unit, decimals = self._unit, self._decimals
        if self._unit_code is not None:
            code = self._unit_code.of(held, self._first)
            unit = self._unit_of.get(self._unit_code.codes.get(code, ""))
            if unit is None:
                return Fault(FaultKind.UNKNOWN_UNIT, at, frame, f"no unit has the code {code}")
        if self._decimals_code is not None:
            decimals = self._decimals_code.of(held, self._first)
            if decimals > _MOST_DECIMALS:
                why = f"the register of its decimals holds {decimals}"
                return Fault(FaultKind.DEVICE_ERROR, at, frame, why)
        assert unit is not None
        factor, offset, name = unit
        value = number / 10**decimals * factor + offset
        if not math.isfinite(value):
            return Fault(FaultKind.DEVICE_ERROR, at, frame, "the register holds no number")
        step = factor / 10**decimals if self._whole_numbers else None
        return Reading(self.channels[0].name, value, at, name, frame, None, step)


@dataclass(frozen=True, slots=True)
class _Register:
    """A register beside the value: where it is, which of its bits count, and what they mean."""

    address: int
    mask: int
    codes: Mapping[float, str]

    def of(self, registers: Sequence[int], first: int) -> int:
        """Return its number out of an answer that begins at register ``first``."""
        return registers[self.address - first] & self.mask


def _coded(take: Options, name: str, meanings: tuple[str, ...]) -> _Register | None:
    """Take a register of codes, ``None`` where there is none; without meanings it is a number."""
    if name not in take:
        return None
    table = take.table(name)
    address = table.integer("address", 0, 0xFFFF)
    mask = table.integer("mask", 1, 0xFFFF, 0xFFFF)
    codes = _numbered(table.table("codes", required=True), meanings) if meanings else {}
    if meanings and not codes:
        raise table.refused("codes", "there must be some")
    table.finish()
    return _Register(address, mask, codes)


def _numbered(codes: Options, meanings: Iterable[str], *, signed: bool = False) -> dict[float, str]:
    """Take a table from whole numbers, written as text, to meanings."""
    found: dict[float, str] = {}
    lowest, highest = (-(2**31), 2**32 - 1) if signed else (0, 0xFFFF)
    for name in codes.names():
        digits = name.removeprefix("-") if signed else name
        if not (name.isascii() and digits.isdigit() and lowest <= int(name) <= highest):
            raise codes.refused(name, f"a code is a whole number from {lowest} to {highest}")
        found[int(name)] = codes.choice(name, tuple(meanings))
    return found


def _units(table: Options) -> dict[str, Unit]:
    units = {}
    for name in table.names():
        if table.is_table(name):
            pair = table.table(name)
            units[name] = _factor_of(pair, name)
            pair.finish()
        else:
            units[name] = (table.number(name, 1e-12, 1e12), 0.0, name)
    return units


def _factor_of(table: Options, name: str) -> Unit:
    return table.number("factor", 1e-12, 1e12), table.number("offset", -1e12, 1e12, 0.0), name
