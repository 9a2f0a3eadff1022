"""Today's check of an instrument, put on record by whoever made it."""

from dataclasses import dataclass, replace

from benchstation.bench.bench_instrument import BenchInstrument
from benchstation.bench.commands.parsing import named
from benchstation.bench.in_doubt import held_in_words, hold_in_doubt
from benchstation.bench.instrument_checks import (
    check,
    prove_empty,
    proven_zero,
    stand_by,
    why_not_weight,
)
from benchstation.bench.messages import Message, attention_if
from benchstation.bench.session import LEADS, BenchSession, Command, SignedCommand
from benchstation.domain.events import CheckWithdrawn
from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.domain.materials import Material, Sort
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.driver_api.errors import DriverError
from benchstation.metrology.check_weights import permissible_error
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
class WithdrawCheck(SignedCommand):
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
    weight: str = ""
    """The id of the check weight on a scale; a gauge is checked at the zero of its open line."""

    def __call__(self, session: BenchSession) -> Message:
        return _checked(session, session.instruments.named(self.instrument_id), self.weight)


LINE_SHUT_PA = 5e4
"""More than any zero is off: a line with so much in it is not open."""


@dataclass(frozen=True, slots=True)
class CheckFillLine(Command):
    """Check the zero of the gauge in the fill line, at the line, while it is open to the air."""

    def __call__(self, session: BenchSession) -> Message:
        shown = session.gauge.good_value(session.clock.seconds())
        if shown is not None and shown > LINE_SHUT_PA:
            raise NotAllowedError(
                f"it shows {session.words.pressure(shown)}: the line is not open to the air.",
                where=session.gauge.registered.title,
                advice="Open the line to the air and wait; nothing was judged.",
            )
        return _checked(session, session.gauge, "")


def _checked(session: BenchSession, fitted: BenchInstrument, weight_id: str) -> Message:
    """Judge an instrument and put the check on record."""
    now = session.clock.seconds()
    if fitted.role is InstrumentRole.SCALE:
        zero = proven_zero(fitted, now)
        weight = _weight(session, fitted, weight_id)
        found = check(fitted, now, weight.nominal_kg, zero, session.words)
        error = permissible_error(weight.nominal_kg or 0.0, weight.weight_class)
        found = replace(found, weight=weight.lot, weight_error=error)
    else:
        found = check(fitted, now, None, words=session.words)
    # One that failed already has nothing more to say of what was measured before.
    newly = not found.passed and (fitted.checked is None or fitted.checked.passed)
    held = hold_in_doubt(session, fitted) if newly else 0
    session.journal([found])
    stand_by(fitted, last_checks(session.store)[fitted.id])
    verdict = "passed" if found.passed else "FAILED: no quality result is captured with it"
    said = f"{fitted.registered.title}: {found.check} {verdict}.{held_in_words(held)}"
    return Message(said, attention_if(not found.passed))


def _weight(session: BenchSession, fitted: BenchInstrument, weight_id: str) -> Material:
    """Return the registered weight that is on a scale; raise for one that may not be used."""
    title, stock = fitted.registered.title, session.shop.stock
    weight = stock.find(Sort.WEIGHT, "", weight_id.strip())
    if weight is None:
        said = f"check weight {weight_id.strip()} is not on record."
        raise NotAllowedError(
            said if weight_id.strip() else "no check weight is chosen.",
            where=title,
            advice="Choose or scan it; a lead receives it on Materials (F11).",
            field="weight",
        )
    why = stock.why_not(weight, session.today) or why_not_weight(fitted, weight)
    if why:
        raise NotAllowedError(
            f"check weight {weight.lot}: {why}.",
            where=title,
            advice="Take another weight.",
            field="weight",
        )
    return weight
