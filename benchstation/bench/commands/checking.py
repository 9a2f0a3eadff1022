"""Today's check of an instrument, put on record by whoever made it."""

from dataclasses import dataclass

from benchstation.bench.bench_instrument import BenchInstrument
from benchstation.bench.commands.parsing import named, quantity
from benchstation.bench.instrument_checks import check, prove_empty, proven_zero, stand_by
from benchstation.bench.messages import Message, attention_if
from benchstation.bench.session import LEADS, BenchSession, Command
from benchstation.domain.events import CheckWithdrawn
from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.driver_api.errors import DriverError
from benchstation.quantities.units import Dimension
from benchstation.store.recall import checks_of, last_checks


def _free_scale(session: BenchSession, instrument_id: str) -> BenchInstrument:
    """Return a scale on which no tare of a weighing stands; raise otherwise."""
    fitted = session.instruments.named(instrument_id)
    if fitted.role is not InstrumentRole.SCALE:
        raise NotAllowedError("it is no scale.", where=fitted.registered.title)
    weighing = session.work.weighing
    if weighing is not None and weighing.tared and fitted.id == session.scale.id:
        raise NotAllowedError(
            "a tare of the weighing stands on it.",
            where=fitted.registered.title,
            advice="Capture first, or continue after this weighing.",
        )
    return fitted


@dataclass(frozen=True, slots=True)
class ZeroScale(Command):
    """Have a scale take its empty pan for zero: by its zero command, or by a tare."""

    instrument_id: str = named("instrument")

    def __call__(self, session: BenchSession) -> Message:
        fitted = _free_scale(session, self.instrument_id)
        try:
            fitted.instrument.zero()
        except DriverError:
            fitted.instrument.tare()
        fitted.zero_proof = None
        return Message(f"{fitted.registered.title}: zero sent. Wait, then prove the empty pan.")


@dataclass(frozen=True, slots=True)
class ProveEmptyPan(Command):
    """Show that the empty scale stands at zero, before a check weight is put on."""

    instrument_id: str = named("instrument")

    def __call__(self, session: BenchSession) -> Message:
        fitted = _free_scale(session, self.instrument_id)
        prove_empty(fitted, session.clock.seconds(), session.words)
        return Message(f"{fitted.registered.title}: empty and at zero. Now put the weight on.")


@dataclass(frozen=True, slots=True)
class WithdrawCheck(Command):
    """Have the newest check of an instrument count no more, for it was made wrongly."""

    roles = LEADS
    reason: str
    instrument_id: str = named("instrument")

    def __call__(self, session: BenchSession) -> Message:
        fitted = session.instruments.named(self.instrument_id)
        title = fitted.registered.title
        if not self.reason.strip():
            raise NotAllowedError("a reason is needed.", where=title, advice="Say what was wrong.")
        newest = checks_of(session.store, fitted.id)
        if not newest:
            raise NotAllowedError("no check of it is on record.", where=title)
        session.journal([CheckWithdrawn(fitted.id, newest[-1].seq, self.reason.strip())])
        stand_by(fitted, last_checks(session.store).get(fitted.id))
        return Message(f"{title}: its newest check is withdrawn.")


@dataclass(frozen=True, slots=True)
class CheckInstrument(Command):
    """Compare an instrument with what it must show now."""

    instrument_id: str = named("instrument")
    nominal_kg: float | None = quantity("nominal", Dimension.MASS, default=None)
    """Of the check weight on a scale; a gauge is checked at the zero of its open line."""

    def __call__(self, session: BenchSession) -> Message:
        fitted = session.instruments.named(self.instrument_id)
        now, zero = session.clock.seconds(), None
        if fitted.role is InstrumentRole.SCALE:
            zero = proven_zero(fitted, now)
        checked = check(fitted, now, self.nominal_kg, zero, session.words)
        session.journal([checked])
        stand_by(fitted, last_checks(session.store)[fitted.id])
        verdict = "passed" if checked.passed else "FAILED: no quality result is captured with it"
        said = f"{fitted.registered.title}: {checked.check} {verdict}."
        return Message(said, attention_if(not checked.passed))
