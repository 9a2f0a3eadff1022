"""Signing a line of the start of the day, or putting it off with a reason."""

from collections.abc import Iterable
from dataclasses import dataclass

from benchstation.bench.commands.parsing import quantity
from benchstation.bench.day_start import BOTTLE, SIGNED_LINES, LineState
from benchstation.bench.judging import tried
from benchstation.bench.messages import Message
from benchstation.bench.session import BenchSession, Command
from benchstation.domain.events import DayLineSigned
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.driver_api.errors import StationError
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import Dimension

WHERE = "Start of the day"
HIGHEST_BOTTLE_PA = 500e5


@dataclass(frozen=True, slots=True)
class SignDayLine(Command):
    """Sign that a line was seen to which leaves no evidence of its own."""

    line: str
    note: str = ""
    gauge_pa: float | None = quantity("bottle", Dimension.PRESSURE, default=None)

    def __call__(self, session: BenchSession) -> Message:
        if self.line not in SIGNED_LINES:
            raise NotAllowedError(
                "this line is done by its evidence, not by a word.",
                where=WHERE,
                advice="Give the figure or make the check; or put it off with a reason.",
            )
        if self.line == BOTTLE:
            self._require_gauge(session.words)
        elif not self.note:
            raise NotAllowedError("what was seen is missing.", where=WHERE, field="note")
        session.journal([DayLineSigned(self.line, False, self.note, self.gauge_pa)])
        return _said(session)

    def wrong(self, session: BenchSession) -> Iterable[StationError]:
        if self.line != BOTTLE or self.gauge_pa is None:
            return ()
        return tried(lambda: self._require_gauge(session.words))

    def _require_gauge(self, words: QuantityFormatter) -> None:
        if self.gauge_pa is None or not 0.0 <= self.gauge_pa <= HIGHEST_BOTTLE_PA:
            raise NotAllowedError(
                "what the bottle's gauge shows is missing or cannot be.",
                where=WHERE,
                advice=f"Such as {words.pressure(140e5, 0)}.",
                field="bottle",
            )


@dataclass(frozen=True, slots=True)
class PutOffDayLine(Command):
    """Put a line off for today; what rests on its evidence stays barred."""

    line: str
    reason: str

    def __call__(self, session: BenchSession) -> Message:
        found = next((line for line in session.day_lines() if line.key == self.line), None)
        if found is None or found.state is LineState.DONE:
            raise NotAllowedError("there is nothing to put off.", where=WHERE)
        if not self.reason:
            raise NotAllowedError("this needs a reason.", where=WHERE, field="reason")
        session.journal([DayLineSigned(self.line, True, self.reason)])
        return _said(session)


def _said(session: BenchSession) -> Message:
    left = sum(line.state is LineState.OPEN for line in session.day_lines())
    if not left:
        return Message("On record. The day may begin: Bench (F2).")
    return Message(f"On record. {left} {'line is' if left == 1 else 'lines are'} still open.")
