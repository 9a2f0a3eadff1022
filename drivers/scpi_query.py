r"""Instruments asked by query in the manner of SCPI: one value a query, and an error queue.

Numbers are the NR1, NR2 and NR3 response data of IEEE 488.2-1992, 8.7.2 to 8.7.4 (the sign of an
exponent may be left out), and nothing else; a response ends in NL (8.5), before which a serial line
often sends CR. Such an instrument does not answer a query that it does not understand: it puts an
error into its queue. So the queue is asked in turn with the value whenever an answer failed to come
or was no number, and now and then besides; ``0`` says that it is empty (SCPI-99, volume 1, 21.8).
9.9E37 stands for infinity and 9.91E37 for not-a-number (SCPI-99, volume 1, 7.2.1.4 and 7.2.1.5,
from memory): both are faults.
"""

import math
import re
from collections.abc import Mapping
from typing import Any, ClassVar

from benchstation.driver_api.contract import Driver, DriverInfo, FrameCounts, OptionSpec
from benchstation.driver_api.errors import UnsupportedCommandError
from benchstation.driver_api.framing import LineFramer
from benchstation.driver_api.options import Options, channel_from
from benchstation.driver_api.reading import Fault, FaultKind, Item, Quantity, Reading, Reply

_NUMBER = re.compile(rb"[+-]?[0-9]{1,16}(?:\.([0-9]{1,16})(?:E([+-]?[0-9]{1,2}))?)?")
_ERROR = re.compile(rb'([+-]?[0-9]{1,5}),"([ -!#-~]|""){0,255}"')
_IDENTITY = re.compile(rb"[^,\r\n]*,[^,\r\n]*,[^,\r\n]*,[^,\r\n]*")
_NOT_FINITE = 9.9e37
_LONGEST_ANSWER = 300
_COMMANDS = ("tare", "zero", "print")
_MOST_UNANSWERED = 2
"""A queue that was asked so often in vain is not there."""


class ScpiQueryDriver(Driver):
    """One channel out of the answers to one query."""

    info: ClassVar[DriverInfo] = DriverInfo(
        id="scpi_query",
        title="Queries with an error queue",
        quantities=tuple(Quantity),
        options=(
            OptionSpec(
                "channel", "name, quantity, reference, low, high, resolution", required=True
            ),
            OptionSpec("query", "what asks for the value, without its end", required=True),
            OptionSpec("unit", "unit text of the value", required=True),
            OptionSpec("factor", "SI value of one unit", required=True),
            OptionSpec("offset", "SI value at zero"),
            OptionSpec("error_query", "what asks for the oldest error; SYST:ERR? by default"),
            OptionSpec("error_every", "values between two such queries; 0 never, 100 by default"),
            OptionSpec("commands", "tare, zero, print: what to send, without its end"),
        ),
    )

    def __init__(self, options: Mapping[str, Any]) -> None:
        take = Options(options, self.info.id)
        self.channels = (channel_from(take),)
        self.counts = FrameCounts()
        self._query = take.ascii("query") + b"\n"
        self._unit = take.text("unit", longest=16)
        self._factor = take.number("factor", 1e-12, 1e12)
        self._offset = take.number("offset", -1e12, 1e12, 0.0)
        self._error_query = take.ascii("error_query", "SYST:ERR?") + b"\n"
        self._error_every = take.integer("error_every", 0, 100_000, 100)
        commands = take.table("commands")
        self._commands = {
            name: commands.ascii(name) + b"\n" for name in _COMMANDS if name in commands
        }
        commands.finish()
        take.finish()
        self.capabilities = frozenset(self._commands)
        self._framer = LineFramer(b"\n", _LONGEST_ANSWER)
        self._errors_due = self._error_every > 0
        self._asked_errors = False
        self._unanswered = 0
        self._values = 0

    def hello(self) -> bytes:
        """Return the identity query of IEEE 488.2, 10.14."""
        return b"*IDN?\n"

    def poll(self) -> bytes:
        """Return the query for the value, or in turn with it for the oldest error."""
        self._asked_errors = (
            self._errors_due and not self._asked_errors and self._unanswered < _MOST_UNANSWERED
        )
        return self._error_query if self._asked_errors else self._query

    def command(self, name: str) -> bytes:
        """Return the bytes of a command in :attr:`capabilities`."""
        if name not in self._commands:
            raise UnsupportedCommandError(self.info.id, name)
        return self._commands[name]

    def reset(self) -> None:
        """Forget half an answer; an answer that did not come has left its reason in the queue."""
        self._framer.clear()
        self.counts.discarded_bytes = self._framer.discarded
        self._unanswered += self._asked_errors
        self._errors_due = self._error_every > 0

    def feed(self, data: bytes, at: float) -> list[Item]:
        """Return a reading, fault or reply for every answer that ended in ``data``."""
        items = [self._item(frame, at) for frame in self._framer.push(data)]
        self.counts.note(items, len(items), self._framer.discarded)
        return items

    def _item(self, frame: bytes, at: float) -> Item:
        body = frame[:-1].removesuffix(b"\r")
        number = _NUMBER.fullmatch(body)
        if number is not None:
            return self._reading(number, frame, at)
        error = _ERROR.fullmatch(body)
        if error is not None:
            return self._error(error, frame, at)
        if _IDENTITY.fullmatch(body):
            return Reply("identity", True, at, frame)
        self._errors_due = self._error_every > 0
        return Fault(FaultKind.BAD_FRAME, at, frame, "the answer is no number")

    def _reading(self, number: re.Match[bytes], frame: bytes, at: float) -> Item:
        shown = float(number[0])
        value = shown * self._factor + self._offset
        if abs(shown) >= _NOT_FINITE or not math.isfinite(value):
            kind = FaultKind.DEVICE_ERROR
            if math.isclose(abs(shown), _NOT_FINITE, rel_tol=1e-6):
                kind = FaultKind.OVER_RANGE if shown > 0 else FaultKind.UNDER_RANGE
            return Fault(kind, at, frame, "the instrument has no value to give")
        self._values += 1
        if self._error_every and self._values % self._error_every == 0:
            self._errors_due = True
        decimals, exponent = len(number[1] or b""), int(number[2] or b"0")
        step = self._factor * 10.0 ** (exponent - decimals)
        # Adding zero turns a minus zero into zero.
        return Reading(self.channels[0].name, value + 0.0, at, self._unit, frame, None, step)

    def _error(self, error: re.Match[bytes], frame: bytes, at: float) -> Item:
        self._unanswered = 0
        if int(error[1]) == 0:
            self._errors_due = False
            return Reply("errors", True, at, frame)
        self._errors_due = self._error_every > 0
        text = error[0].decode("ascii")
        return Fault(FaultKind.DEVICE_ERROR, at, frame, f"the instrument reports {text}")
