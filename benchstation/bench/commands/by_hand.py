"""A mass or a settled charge typed in when the bench's own instrument is lost or unfit."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from benchstation.bench.air_locks import air_locked
from benchstation.bench.capture.charging import SettledCharge
from benchstation.bench.capture.weigh_loop import judge_with
from benchstation.bench.commands.parsing import named, secret
from benchstation.bench.commands.signing_in import confirmed_by
from benchstation.bench.judging import tried
from benchstation.bench.locks import can_locked, lot_locked, pressure_locked
from benchstation.bench.messages import Message, attention_if
from benchstation.bench.session import WORKERS, BenchSession, Command
from benchstation.bench.signed_twice import sign_twice
from benchstation.bench.tare_loss import lose_tare
from benchstation.bench.targets import charge_here
from benchstation.domain import unit_commands as commands
from benchstation.domain.by_hand import HAND, ByHand, read_by_hand
from benchstation.domain.disposition import ALONE
from benchstation.domain.duties import others
from benchstation.domain.events import MassCaptured
from benchstation.domain.oil_balance import next_portion
from benchstation.domain.people import Role
from benchstation.domain.recorded_parts import ReadByHand
from benchstation.domain.specification import Step, StepKind
from benchstation.domain.statements import Code, Statement
from benchstation.domain.unit_commands import PASS, NotAllowedError, require_step
from benchstation.driver_api.errors import StationError
from benchstation.quantities.units import Dimension, UnitSystem, display_unit

STILL_PA = 1000.0
"""What a charge that is said to have settled may still move, one standard deviation."""
KINDS = (StepKind.WEIGH, StepKind.BLEED, StepKind.CHARGE)


def why_not_by_hand(session: BenchSession, step: Step) -> str:
    """Return why nothing may be typed at this step now; empty: the instrument is lost or unfit.

    A charge is never typed while the guard does not know the pressure: nobody would watch it.
    """
    gas = step.kind is StepKind.CHARGE
    fitted = session.gauge if gas else session.scale
    locked = pressure_locked(session) or lot_locked(session) or can_locked(session)
    lost = fitted.good_value(session.clock.seconds()) is None
    if locked:
        blind = "nobody watches the pressure: " if gas and lost else ""
        return f"{blind}{locked}"
    if not lost and not fitted.unfit(session.today):
        return f"{fitted.registered.title} is fit: it is read by the bench"
    return air_locked(session, session.unit(), step)


@dataclass(frozen=True, slots=True)
class AskByHand(Command):
    """Ask for a value that was read by hand."""

    roles = WORKERS

    def __call__(self, session: BenchSession) -> Message:
        _require(session)
        session.work.show_form(HAND)
        return Message("By hand: a second person confirms it, and the unit goes to QA hold.")


def _require(session: BenchSession) -> Step:
    step = require_step(session.unit(), *KINDS)
    why_not = why_not_by_hand(session, step)
    if why_not:
        raise NotAllowedError(
            f"nothing is typed in here now: {why_not}.",
            where=step.title,
            advice="By hand is for an instrument that is lost or unfit.",
        )
    return step


@dataclass(frozen=True, slots=True)
class TakeByHand(Command):
    """Record a value that was read by hand, confirmed by a second person."""

    roles = WORKERS
    form: Mapping[str, str]
    units: UnitSystem
    second_id: str = named("second")
    pin: str = secret()

    def __call__(self, session: BenchSession) -> Message:
        step = _require(session)
        gas, read = step.kind is StepKind.CHARGE, self._read(step)
        confirmed = read.confirmed(self._confirmed_by(session))
        if confirmed.confirmed_by.endswith(ALONE):
            subject = f"{session.unit().unit_id}:{step.id}:{read}"
            waits = sign_twice(session, "take_by_hand", subject)
            if waits:
                return Message(waits)
        session.work.close_form()
        if gas:
            return _charge(session, read, replace(confirmed, u_pa=read.u(displays=1)))
        return _mass(session, step, read, replace(confirmed, u_kg=read.u(displays=2)))

    def wrong(self, session: BenchSession) -> Iterable[StationError]:
        return tried(lambda: self._read(_require(session)))

    def _read(self, step: Step) -> ByHand:
        dimension = Dimension.PRESSURE if step.kind is StepKind.CHARGE else Dimension.MASS
        return read_by_hand(self.form, dimension, display_unit(dimension, self.units), step.title)

    def _confirmed_by(self, session: BenchSession) -> str:
        """Return who confirms it; where nobody else is here the one does, and it says so."""
        assert session.person is not None
        own = session.person.person_id
        if self.second_id == own and not others(session.shop.people, frozenset(Role), {own}):
            session.sign(self.pin, "pin")
            return f"{own}{ALONE}"
        return confirmed_by(session, self.second_id, self.pin).person_id


def _mass(session: BenchSession, step: Step, read: ByHand, confirmed: ReadByHand) -> Message:
    rebuild, weighing = session.unit(), session.work.weighing
    assert weighing is not None
    lose_tare(session, Statement(Code.READ_BY_HAND))
    plan = weighing.plan
    captured = MassCaptured(
        rebuild.unit_id,
        step.id,
        plan.purpose.value,
        "",
        read.value,
        0.0,
        0,
        read.resolution,
        "",
        "",
        HAND,
        plan.lot,
        next_portion(c.event for c in rebuild.captures),
        plan.again,
        None,
        confirmed,
    )
    result = judge_with(session, captured)
    session.journal(commands.mass_by_hand(session.unit(), captured, result))
    weighing.plan = replace(plan, again=False)
    # What the hand has read is on record now, and not to be undone before the next tare.
    weighing.uncaptured_kg = 0.0
    said = f"By hand {session.words.mass(read.value)}: {result.decision}. The unit is on QA hold."
    return Message(said, attention_if(result.decision != PASS))


def _charge(session: BenchSession, read: ByHand, confirmed: ReadByHand) -> Message:
    rebuild = session.unit()
    settled = SettledCharge(read.value, read.value, STILL_PA, "")
    captured = charge_here(session, rebuild, settled, by_hand=confirmed)
    session.journal(commands.capture_charge(rebuild, captured, locked=pressure_locked(session)))
    read_as = session.words.pressure(read.value)
    said = f"By hand {read_as}: {captured.decision}. The unit is on QA hold."
    return Message(said, attention_if(captured.decision != PASS))
