"""One channel of a text line: its number, sign, unit and state, out of what the frame matched."""

import re
from collections.abc import Mapping
from dataclasses import dataclass

from benchstation.driver_api.reading import Fault, FaultKind, Item, Reading
from drivers.text_fields import OF_A_CHANNEL, STATUS_FAULTS, group_of
from drivers.text_frame import TextFrame

Unit = tuple[float, float, str]
"""Factor, offset and text of a unit: value_si = number * factor + offset."""


@dataclass(slots=True)
class Said:
    """What status bits said of one line."""

    stable: bool | None
    net: bool | None
    minus: bool
    unit: Unit | None = None
    decimals: int | None = None


class LineValue:
    """Makes the reading of one channel.

    ``units`` are the texts as they stand in the line; ``None`` is the blank that leaves the unit as
    it was. ``of`` is the further channel, empty for the profile's own.
    """

    def __init__(
        self,
        name: str,
        frame: TextFrame,
        units: Mapping[bytes, Unit | None],
        decimal: bytes,
        of: str = "",
    ) -> None:
        self._name, self._of = name, of
        self._units = units
        self._decimal = decimal
        own = {field.kind: field for field in frame.fields if field.of == of}
        shared = {field.kind: field for field in frame.fields if not field.of}
        # The state of the line is that of each of its values which has none of its own.
        fields = {kind: shared[kind] for kind in ("status", "net") if kind in shared} | own
        self._groups = tuple(
            fields[kind].group if kind in fields else group_of(kind, of) for kind in OF_A_CHANNEL
        )
        number = fields["number"]
        self._codes, self._decimals = number.codes, number.decimals
        self._thousands = number.thousands
        codes = {kind: field.codes for kind, field in fields.items()}
        self._minus = {text for text, sign in codes.get("sign", {}).items() if sign == "minus"}
        self._stable: dict[bytes, bool | None] = {b"": None}
        self._stable |= {
            text: means in ("stable", "zero") for text, means in codes.get("status", {}).items()
        }
        self._net: dict[bytes, bool | None] = {b"": None}
        self._net |= {text: means == "net" for text, means in codes.get("net", {}).items()}
        self._remembers_unit = "unit" in fields and None in units.values()
        self._last_unit: Unit | None = None
        self._steps: dict[tuple[int, str], float] = {}

    def reset(self) -> None:
        """Forget the unit last seen."""
        self._last_unit = None

    def said(self, found: re.Match[bytes]) -> Said:
        """Return what the columns say, for status bits to add to."""
        status, net, sign, _, _ = found.group(*self._groups)
        return Said(self._stable[status], self._net[net], sign in self._minus)

    def read(self, found: re.Match[bytes], frame: bytes, at: float, said: Said | None) -> Item:
        """Return the reading of a matched line, or the fault that its columns report.

        ``said`` is what status bits made of :meth:`said`, where the line has any.
        """
        status, net_text, sign, number, unit_text = found.group(*self._groups)
        if number in self._codes:
            means = self._codes[number]
            words = f"the instrument reports {means}"
            return Fault(STATUS_FAULTS[means], at, frame, words, channel=self._of)
        unit, decimals = self._units[unit_text], self._decimals
        if said is None:
            stable, net, minus = self._stable[status], self._net[net_text], sign in self._minus
        else:
            stable, net, minus = said.stable, said.net, said.minus
            unit = said.unit or unit
            decimals = decimals if said.decimals is None else said.decimals
        if self._remembers_unit:
            if unit is None:
                unit, stable = self._last_unit, False
            elif stable is None:
                stable = True
            self._last_unit = unit
        if unit is None:
            why = "the instrument is moving and has not shown its unit yet"
            return Fault(FaultKind.UNKNOWN_UNIT, at, frame, why, channel=self._of)
        factor, offset, name = unit
        if self._thousands:
            number = number.replace(self._thousands, b"")
        point = number.find(self._decimal)
        shown = float(number) if self._decimal == b"." else float(number.replace(b",", b"."))
        if point >= 0:
            decimals = len(number) - point - 1
        elif decimals:
            shown /= 10**decimals
        value = (-shown if minus else shown) * factor + offset
        step = self._steps.get((decimals, name))
        if step is None:
            step = self._steps[decimals, name] = factor / 10**decimals
        # Adding zero turns a minus zero into zero.
        return Reading(self._name, value + 0.0, at, name, frame, stable, step, net)
