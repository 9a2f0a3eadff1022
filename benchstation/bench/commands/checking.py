"""Today's check of an instrument, put on record by whoever made it."""

from dataclasses import dataclass

from benchstation.bench.commands.parsing import named, quantity
from benchstation.bench.instrument_checks import check
from benchstation.bench.messages import Message, attention_if
from benchstation.bench.session import BenchSession, Command
from benchstation.quantities.units import Dimension


@dataclass(frozen=True, slots=True)
class CheckInstrument(Command):
    """Compare an instrument with what it must show now."""

    instrument_id: str = named("instrument")
    nominal_kg: float | None = quantity("nominal", Dimension.MASS, default=None)
    """Of the check weight on a scale; a gauge is checked at the zero of its open line."""

    def __call__(self, session: BenchSession) -> Message:
        fitted = session.instruments.named(self.instrument_id)
        checked = check(fitted, session.clock.seconds(), self.nominal_kg)
        session.journal([checked])
        fitted.checked = checked
        verdict = "passed" if checked.passed else "FAILED: no quality result is captured with it"
        said = f"{fitted.registered.title}: {checked.check} {verdict}."
        return Message(said, attention_if(not checked.passed))
