"""The desk: one unit at a time, driven by actions and by time. One thread calls it.

Every action checks, journals and folds, in that order; what is on screen is what is in the journal.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import ClassVar

from benchstation.bench.badge_texts import BadgeTexts
from benchstation.bench.bench_instrument import BenchInstrument, BenchInstruments
from benchstation.bench.capture.charging import Charging
from benchstation.bench.capture.oil import PourStatus, mixed, standing, weighing_for
from benchstation.bench.capture.steady_reading import Steadying, steadying_for
from benchstation.bench.capture.weighing import Weighing
from benchstation.bench.commands.parsing import command_from, texts_of
from benchstation.bench.guard_watch import GuardWatch
from benchstation.bench.idle import Idle
from benchstation.bench.messages import Message, Severity, attention_if
from benchstation.bench.next_unit import NextUnit, earlier_of
from benchstation.bench.outputs.feed import Feed
from benchstation.bench.outputs.lamp import Lamp
from benchstation.bench.outputs.mute import Mute
from benchstation.bench.sets import UnitSet, set_of
from benchstation.bench.shop import CHARGING_PA_S, CONNECTING_PA_S, Shop
from benchstation.bench.step_history import StepHistory, known_at
from benchstation.clock import Clock
from benchstation.domain.events import Event, OilUnweighed, RebuildOpened, TareLost
from benchstation.domain.gas_charge import target_for
from benchstation.domain.guard import GuardLimits
from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.domain.people import Lockout, Person, Role
from benchstation.domain.rebuild import Rebuild, apply, fold
from benchstation.domain.specification import StepKind
from benchstation.domain.unit_commands import AT, NotAllowedError
from benchstation.domain.unweighed import unseen
from benchstation.domain.weigh_in import OilTarget, Surroundings, oil_target
from benchstation.driver_api.errors import StationError
from benchstation.physics.damper import ChargeTarget
from benchstation.physics.oil import Oil
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.store.engine import Store
from benchstation.store.traces import Trace

NOBODY = "station"
AGAIN = "Put back what is not captured, then tare again."
"""Half a pour that no tare proves would otherwise be in the unit and in no record."""
NOT_TYPED = ("units", "reason", "pin", AT)
"""What comes with a form and is not kept with it; a PIN is typed anew each time."""
ANYBODY: frozenset[Role] = frozenset(Role)
WORKERS = frozenset((Role.TECHNICIAN, Role.LEAD))
LEADS = frozenset((Role.LEAD,))
LEADS_AND_QA = frozenset((Role.LEAD, Role.QA))
QA = frozenset((Role.QA,))
ROLES = ((Role.TECHNICIAN, "a technician"), (Role.LEAD, "a bench lead"), (Role.QA, "QA"))


def not_captured(moved_kg: float, words: QuantityFormatter) -> str:
    """Say how much oil is in no record, and what to do."""
    return f"About {words.rough_mass(moved_kg)} are not captured. {AGAIN}"


class Command:
    """Something that a person may have the bench do.

    Each kind is a frozen dataclass whose fields are what must be known for it, with a call that
    does it and returns what to say, or raises and did nothing.
    """

    __slots__ = ()
    roles: ClassVar[frozenset[Role]] = ANYBODY
    """Who may do it: whoever has one of these."""
    signed_in: ClassVar[bool] = True
    """Whether somebody must be signed in for it."""

    def __call__(self, session: "BenchSession") -> Message:
        """Do it and return what to say; raise, and nothing was done."""
        raise NotImplementedError

    @classmethod
    def who(cls) -> str:
        """Return in words who may do it."""
        if cls.roles == ANYBODY:
            return "whoever is signed in"
        return " or ".join(words for role, words in ROLES if role in cls.roles)

    @classmethod
    def why_not(cls, person: Person | None) -> str:
        """Return in words why ``person`` may not do it; empty: nothing against it."""
        if not cls.signed_in or (person is not None and person.has(*cls.roles)):
            return ""
        return "sign in first" if person is None else f"{cls.who()} does this"

    @classmethod
    def require(cls, person: Person | None) -> None:
        """Raise where ``person`` may not do it."""
        if person is None and cls.signed_in:
            raise NotAllowedError("nobody is signed in.", advice="Sign in first.")
        if person is not None and cls.why_not(person):
            not_so = "is no bench lead" if cls.roles == LEADS else "does not do this"
            if cls.roles == WORKERS:
                not_so = "does not work on units"
            raise NotAllowedError(f"{person.name} {not_so}.", advice=f"Have {cls.who()} sign in.")


Commands = Mapping[str, type[Command]]


def barred(commands: Commands, person: Person | None) -> dict[str, str]:
    """Return what ``person`` may not do, by name, and why in words."""
    return {name: why for name, kind in commands.items() if (why := kind.why_not(person))}


@dataclass(slots=True)
class BenchSession:
    """What stands on the bench now, and who stands before it."""

    shop: Shop
    store: Store
    clock: Clock
    instruments: BenchInstruments
    watch: GuardWatch
    air: Callable[[], Surroundings]
    commands: Commands
    """What a person may do, by the name that the window knows it by."""
    person: Person | None = None
    rebuild: Rebuild | None = None
    message: Message = field(default_factory=Message)
    """The last sentence to whoever stands here."""
    weighing: Weighing | None = None
    charging: Charging | None = None
    charge_target: ChargeTarget | None = None
    charge_wanted: bool = False
    """A charge is captured as soon as it has settled."""
    hold_wanted: bool = False
    lamp: Lamp | None = None
    """The stack light, for its health; the guard drives it, not the desk."""
    feed: Feed | None = None
    """The reading feed, for what is the matter with it."""
    mute: Mute = field(default_factory=Mute)
    open_form: str = ""
    """A form that was asked for at this step, such as for a mass read by hand; empty: none."""
    _step: tuple[str, str] = ("", "")
    tries: dict[str, Lockout] = field(default_factory=dict)
    """Wrong PINs so far, by person."""
    steadying: Steadying | None = None
    """Follows the instrument that the step measures with."""
    known: StepHistory = field(default_factory=StepHistory)
    typed: dict[str, str] = field(default_factory=dict)
    """What stands in the step's form, as last sent."""
    pictures: dict[str, bytes] = field(default_factory=dict)
    """The step's photographs by SHA-256."""
    photo_folder: Path | None = None
    """Where a camera or phone drops its pictures."""
    intake: NextUnit = field(default_factory=NextUnit)
    """What is known of the next unit, or of the one that stands here."""
    matched: UnitSet | None = None
    """At the last step: the set that the unit belongs to."""
    switching: bool = False
    """The sign-in form stands beside the running step."""
    idle: Idle = field(default_factory=Idle)
    badge_texts: BadgeTexts = field(default_factory=BadgeTexts)
    display: UnitSystem = UnitSystem.METRIC
    """What is shown and said is in these units; what is on record is SI."""

    @property
    def scale(self) -> BenchInstrument:
        """The scale of the weighing at hand, or of the next."""
        return self.instruments.of(InstrumentRole.SCALE)[0]

    @property
    def gauge(self) -> BenchInstrument:
        """The gauge in the fill line: it measures the charge."""
        return self.instruments.gauges_in_path[0]

    @property
    def words(self) -> QuantityFormatter:
        """Figures as text in the units of whoever reads them."""
        return QuantityFormatter(self.display)

    # --- journal -------------------------------------------------------------------------------

    def journal(
        self,
        events: Sequence[Event],
        traces: Sequence[Trace] = (),
        photos: Mapping[str, bytes] | None = None,
    ) -> None:
        """Append durably, then fold: nothing is shown that is not on disk."""
        if not events:
            return
        person = self.person.person_id if self.person else NOBODY
        entries = self.store.append(
            events, person=person, utc=self.clock.utc(), traces=traces, photos=photos
        )
        for entry in entries:
            unit = getattr(entry.event, "unit_id", "")
            if self.rebuild is not None and unit == self.rebuild.unit_id:
                self.rebuild = apply(self.rebuild, entry)

    def recover(self) -> None:
        """Go on with the unit that was on the bench: read the journal, fold, same step.

        What was live is gone: a proven tare must be proven again.
        """
        unit_id = self.store.open_unit()
        if unit_id is None:
            return
        rebuild, undo = self.folded(unit_id), ""
        self.take(rebuild)
        if rebuild.tare is not None:
            undo = f" The tare is lost. {AGAIN}"
            reason = "the station was restarted"
            lost = TareLost(unit_id, rebuild.tare.step_id, reason)
            self.journal([lost, *unseen(rebuild, rebuild.tare, reason)])
        elif rebuild.uncaptured is not None:
            undo = f" {not_captured(rebuild.uncaptured.uncaptured_kg, self.words)}"
        self.say(f"{rebuild.opened.serial} continues where it was.{undo}", attention_if(undo))
        self.enter_step()

    def folded(self, unit_id: str) -> Rebuild:
        """Return a unit's state from its journal."""
        entries = self.store.entries(unit_id=unit_id)
        opened = entries[0].event if entries else None
        if not isinstance(opened, RebuildOpened):
            raise StationError(
                "the unit's journal does not begin with its opening.",
                where="journal",
                advice="Verify the journal; nothing was changed.",
            )
        specification = self.shop.specifications[opened.specification_id, opened.revision]
        return fold(entries, specification)

    def take(self, rebuild: Rebuild | None) -> None:
        """Put a unit on the bench, or none, with what is known of its serial from before."""
        self.rebuild = rebuild
        self.intake = NextUnit()
        if rebuild is not None:
            serial = rebuild.opened.serial
            self.intake = NextUnit(serial, earlier=earlier_of(self.store, serial, rebuild.unit_id))

    # --- actions -------------------------------------------------------------------------------

    def act(self, name: str, form: Mapping[str, str]) -> str:
        """Do what a form asks for and return a sentence; raises and then nothing was done."""
        kind = self.commands.get(name)
        (kind or Command).require(self.person)
        if kind is None:
            raise NotAllowedError(f"there is no action '{name}' here.")
        return self.do(command_from(kind, form))

    def do(self, command: Command) -> str:
        """Do a command and return a sentence; raises ``StationError`` and then nothing was done."""
        command.require(self.person)
        self.idle.stir(self.clock.seconds())
        self.refuse_badges(command)
        message = command(self)
        if message.text:
            self.message = message
        self.enter_step()
        return message.text

    def say(self, sentence: str, severity: Severity = Severity.NORMAL) -> str:
        """Tell whoever stands here, and give the sentence back."""
        self.message = Message(sentence, severity)
        return sentence

    def unit_id(self) -> str:
        """Return the unit on the bench that an alarm belongs to, or empty."""
        return self.rebuild.unit_id if self.rebuild and not self.rebuild.ended else ""

    def refuse_badges(self, given: object) -> None:
        """Raise when a badge stands in a text that may go on record; before anything is done."""
        people, salt = self.shop.people.values(), self.shop.badge_salt
        self.badge_texts.refuse(texts_of(given), people, salt)

    def keep_typed(self, fields: Mapping[str, str]) -> None:
        """Keep what stands in the form of the step at hand until that step is signed."""
        if self.rebuild is not None:
            self.typed = {k: v for k, v in fields.items() if k not in NOT_TYPED}

    def unit(self) -> Rebuild:
        """Return the unit that is worked on; raises when there is none."""
        if self.rebuild is None or self.rebuild.ended:
            raise NotAllowedError("no unit is on the bench.", advice="Open one first.")
        return self.rebuild

    def guard_limits(self) -> GuardLimits:
        """Return the guard's limits for the unit and the step at hand."""
        rebuild = self.rebuild
        step = rebuild.current if rebuild else None
        specification = rebuild.specification if rebuild and step else None
        charging = step is not None and step.kind is StepKind.CHARGE
        return self.shop.guard_limits(
            specification,
            self.gauge.instrument.silent_after_s,
            CHARGING_PA_S if charging else CONNECTING_PA_S,
        )

    def unsafe_pressure_pa(self) -> float | None:
        """Return the gauge pressure when there is some where the gas must be out, else ``None``.

        That is from the release to the charge. A gauge that is not connected proves nothing.
        """
        rebuild = self.rebuild
        step = rebuild.current if rebuild else None
        if rebuild is None or step is None:
            return None
        kinds = [s.kind for s in rebuild.specification.steps]
        place = [s.id for s in rebuild.specification.steps].index(step.id)
        if not kinds.index(StepKind.RELEASE) < place < kinds.index(StepKind.CHARGE):
            return None
        gauge_pa = self.gauge.good_value(self.clock.seconds())
        return gauge_pa if rebuild.specification.gas.under_pressure(gauge_pa) else None

    def require_no_pressure(self, where: str) -> None:
        """Raise while a gauge shows pressure where the gas must be out: nothing is signed then."""
        pressure = self.unsafe_pressure_pa()
        if pressure is not None:
            raise NotAllowedError(
                f"the gauge shows {self.words.pressure(pressure)}, and the gas must be out.",
                where=where,
                advice="Do not open the unit. Go back to the release, and let the gas out.",
            )

    def lose_tare(self, reason: str) -> str:
        """Take note that the tare no longer holds, if there was one.

        Gives what must be undone where oil is in the unit and in no record; else empty.
        """
        rebuild = self.rebuild
        if self.weighing is None or rebuild is None:
            return ""
        had, undo = self.weighing.lose_tare(), ""
        if self.weighing.uncaptured:
            undo = not_captured(self.weighing.uncaptured_kg, self.words)
        if not had and (not undo or rebuild.uncaptured is not None):
            return undo
        step_id = rebuild.current.id if rebuild.current else ""
        missing_kg = self.weighing.uncaptured_kg if self.weighing.uncaptured else 0.0
        facts: list[Event] = [TareLost(rebuild.unit_id, step_id, reason, missing_kg)]
        if undo:
            purpose = self.weighing.plan.purpose.value
            facts.append(OilUnweighed(rebuild.unit_id, step_id, purpose, reason, missing_kg))
        self.journal(facts)
        self.weighing.doubt_told()
        if had:
            first = undo or "Tare again before you continue."
            self.say(f"The tare is lost: {reason}. {first}", Severity.ATTENTION)
        return undo

    def pressure_locked(self) -> str:
        """Say why the pressure or the guard allows no result at this step, however it is read."""
        rebuild = self.rebuild
        step = rebuild.current if rebuild else None
        if step is not None and step.kind is StepKind.CHARGE:
            snapshot = self.watch.snapshot()
            if snapshot.capture_locked:
                return snapshot.worst.kind.value if snapshot.worst else "no pressure reading"
        if self.unsafe_pressure_pa() is not None:
            return "there is pressure where the gas must be out"
        return ""

    def capture_locked(self) -> str:
        """Say why nothing may be captured at this step now; empty: nothing against it."""
        rebuild = self.rebuild
        step = rebuild.current if rebuild else None
        if rebuild is None or step is None:
            return ""
        locked = self.pressure_locked()
        if locked or rebuild.deviated(step.id):
            return locked
        fitted = self.gauge if step.kind is StepKind.CHARGE else self.scale
        return fitted.unfit(self.clock.utc().date()) or self.lot_locked()

    def lot_locked(self) -> str:
        """Say that the oil being weighed in is of a lot withdrawn meanwhile; empty: it is not.

        A deviation signed at the step accepts it.
        """
        rebuild, plan = self.rebuild, self.weighing.plan if self.weighing else None
        step = rebuild.current if rebuild else None
        if rebuild is None or step is None or plan is None or rebuild.deviated(step.id):
            return ""
        oil = plan.purpose.adds and not plan.wants_before
        return self.shop.withdrawn(plan.lot) if oil else ""

    def gas_in_unit(self) -> bool:
        """Say whether the unit must be taken to hold gas: charged, or not proven empty."""
        rebuild = self.rebuild
        if rebuild is None:
            return False
        if rebuild.charge is not None or rebuild.gas_unproven:
            return True
        gauge_pa = self.gauge.good_value(self.clock.seconds())
        band = rebuild.specification.gas.release_zero_band
        charging = self.charging
        return charging is not None and (gauge_pa is None or charging.highest_pa > band)

    # --- targets -------------------------------------------------------------------------------

    def oil(self) -> Oil:
        """Return the oil in the open unit: of its lot, or what its lots mixed to."""
        return mixed(self.unit(), self.shop.lots).oil

    def standing(self) -> PourStatus:
        """Return what the weighing at hand must show, and what counts beside it."""
        rebuild = self.unit()
        assert rebuild.current is not None
        assert self.weighing is not None
        return standing(
            rebuild, rebuild.current, self.weighing, self.shop.lots, self.scale, self.air()
        )

    def oil_target(self) -> OilTarget:
        """Return the oil target of the open unit, here and now."""
        return oil_target(self.unit().specification, self.oil(), self.air())

    def _leave_weighing(self) -> None:
        """Put on record what was moved at the step that is left, and is in no mass."""
        weighing, rebuild = self.weighing, self.rebuild
        if weighing is None or rebuild is None or rebuild.ended:
            return
        unit_id, step_id = self._step
        weighing.note_uncaptured()
        if weighing.tared and weighing.uncaptured and unit_id == rebuild.unit_id:
            purpose, about = weighing.plan.purpose.value, weighing.uncaptured_kg
            self.journal([OilUnweighed(unit_id, step_id, purpose, "the step was left", about)])

    def enter_step(self) -> None:
        """Make the live parts of the step at hand; those of another step go."""
        rebuild = self.rebuild
        step = rebuild.current if rebuild else None
        key = (rebuild.unit_id, step.id) if rebuild and step else ("", "")
        if rebuild is not None and rebuild.proof_due:
            key = (rebuild.unit_id, "")
        if key == self._step:
            return
        self._leave_weighing()
        self._step = key
        self.watch.set_limits(self.guard_limits())
        self.weighing = self.charging = self.charge_target = None
        self.charge_wanted = self.hold_wanted = False
        self.steadying, self.known, self.typed, self.pictures = None, StepHistory(), {}, {}
        self.open_form = ""
        self.matched = set_of(self.store, rebuild) if rebuild is not None else None
        if rebuild is None or step is None or rebuild.proof_due:
            return
        self.known = known_at(self.store, rebuild, step)
        self.steadying = steadying_for(
            step, rebuild.specification.steadiness, self.scale, self.gauge
        )
        if step.kind in (StepKind.WEIGH, StepKind.BLEED):
            self.weighing = weighing_for(rebuild, step, self.scale)
        if step.kind is StepKind.CHARGE:
            judged = rebuild.oil_judged(StepKind.BLEED)
            assert judged is not None
            self.charge_target = target_for(
                rebuild.specification, self.oil(), judged.net_volume_ref_m3, self.air()
            )
            gas = rebuild.specification.gas
            self.charging = Charging(self.charge_target.target_gauge_pa, gas.settle_rate)
