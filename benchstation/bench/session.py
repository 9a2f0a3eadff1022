"""The bench session: one unit at a time, driven by actions and by time. One thread calls it.

Every action checks, journals and folds, in that order; what is on screen is what is in the journal.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from pathlib import Path
from typing import ClassVar

from benchstation.bench.badge_texts import BadgeTexts
from benchstation.bench.bench_air import BenchAir, Moment
from benchstation.bench.bench_instrument import BenchInstrument, BenchInstruments
from benchstation.bench.bench_settings import BenchSettings
from benchstation.bench.capture.oil import main_purpose
from benchstation.bench.capture.repeatability_run import RepeatabilityRun
from benchstation.bench.capture.scale_for import scale_for
from benchstation.bench.commands.parsing import command_from, secret, texts_of
from benchstation.bench.copying import CopyKeeper
from benchstation.bench.day_start import DayBook, DayLine, day_lines
from benchstation.bench.guard_watch import GuardWatch
from benchstation.bench.guiding import Guiding
from benchstation.bench.messages import Message, Severity
from benchstation.bench.outputs.outputs import Outputs
from benchstation.bench.shop import Shop
from benchstation.bench.signed_in import AT_SIGNATURE, SignedIn
from benchstation.bench.step_work import StepWork, key_of, work_at
from benchstation.bench.unit_on_bench import UnitOnBench
from benchstation.bench.waiting_facts import FactsToWrite, WaitingFacts
from benchstation.clock import Clock
from benchstation.config.settings import Settings
from benchstation.domain.air_evidence import AirQuantity
from benchstation.domain.body_temperature import BodyTemperature
from benchstation.domain.events import Event, PinRefused, ScaleChosen
from benchstation.domain.form_fields import SIGNATURE
from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.domain.oil_balance import Purpose
from benchstation.domain.people import Person, Role
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.recorded_parts import Condition
from benchstation.domain.surroundings import Surroundings
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.domain.unit_temperature import around_unit, condition_of, unit_temperature
from benchstation.driver_api.errors import StationError
from benchstation.quantities.formatter import QuantityFormatter, day_of
from benchstation.quantities.units import UnitSystem
from benchstation.store.chain_store import ChainStore
from benchstation.store.reserve import Reserve
from benchstation.store.traces import Trace

NOBODY = "station"
ANYBODY: frozenset[Role] = frozenset(Role)
WORKERS = frozenset((Role.TECHNICIAN, Role.LEAD))
LEADS = frozenset((Role.LEAD,))
LEADS_AND_QA = frozenset((Role.LEAD, Role.QA))
QA = frozenset((Role.QA,))
ROLES = ((Role.TECHNICIAN, "a technician"), (Role.LEAD, "a bench lead"), (Role.QA, "QA"))


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

    def wrong(self, session: "BenchSession") -> Iterable[StationError]:
        """Return what its typed fields would be refused for, while they are typed.

        It asks the very rules of the call, which come before anything is done.
        """
        return ()

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


@dataclass(frozen=True, slots=True, kw_only=True)
class SignedCommand(Command):
    """Something that is signed with the PIN at the place where it is done.

    Whoever stands here was signed in before, and may have gone for a moment.
    """

    signature: str = secret(default="")


Commands = Mapping[str, type[Command]]


def barred(commands: Commands, person: Person | None) -> dict[str, str]:
    """Return what ``person`` may not do, by name, and why in words."""
    return {name: why for name, kind in commands.items() if (why := kind.why_not(person))}


@dataclass(slots=True)
class BenchSession:
    """What stands on the bench now, and who stands before it."""

    shop: Shop
    store: ChainStore
    clock: Clock
    instruments: BenchInstruments
    watch: GuardWatch
    known_air: BenchAir
    """What is known of the bench's air, and from what."""
    commands: Commands
    """What a person may do, by the name that the window knows it by."""
    on_bench: UnitOnBench
    signed_in: SignedIn = field(default_factory=SignedIn)
    work: StepWork = field(default_factory=StepWork)
    """What is under way at the step at hand."""
    message: Message = field(default_factory=Message)
    """The last sentence to whoever stands here."""
    outputs: Outputs = field(default_factory=Outputs)
    badge_texts: BadgeTexts = field(default_factory=BadgeTexts)
    photo_folder: Path | None = None
    """Where a camera or phone drops its pictures."""
    settings: BenchSettings = field(
        default_factory=lambda: BenchSettings(Settings(start_of_day=False))
    )
    day_book: DayBook = field(default_factory=DayBook)
    guiding: Guiding = field(default_factory=Guiding)
    """Whose first unit is accompanied by words."""
    display: UnitSystem = UnitSystem.METRIC
    """What is shown and said is in these units; what is on record is SI."""
    study: RepeatabilityRun | None = None
    """A repeatability run that is under way on one of the scales."""
    real_bench: bool = False
    """Whether this bench was set up for work; the demonstration was not."""
    copies: CopyKeeper | None = None
    """Makes copies of the records in a second place, where the settings name one."""
    shop_note: Callable[[datetime], str] | None = None
    """Says how this bench and its shop stand to each other, where it joined one."""
    to_write: FactsToWrite = field(init=False)
    """What the guard found and is not on record yet. Nothing is signed or captured before it."""

    def __post_init__(self) -> None:
        """Make this session the writer of what waits."""
        beside = Reserve(self.store.beside.with_suffix(".waiting"))
        self.to_write = FactsToWrite(self._write_waiting, beside)

    @property
    def person(self) -> Person | None:
        """Return who is signed in."""
        return self.signed_in.person

    @property
    def today(self) -> date:
        """Return the day by which calibrations and last days of use are judged."""
        return day_of(self.clock.utc())

    @property
    def rebuild(self) -> Rebuild | None:
        """Return the unit on the bench as its facts are now."""
        return self.on_bench.rebuild

    def unit(self) -> Rebuild:
        """Return the unit that is worked on; raises when there is none."""
        return self.on_bench.unit()

    @property
    def scale(self) -> BenchInstrument:
        """Return the scale of the weighing at hand, or of the next."""
        scales = self.instruments.of(InstrumentRole.SCALE)
        return next((scale for scale in scales if scale.id == self.work.scale), scales[0])

    @property
    def gauge(self) -> BenchInstrument:
        """Return the gauge in the fill line: it measures the charge."""
        return self.instruments.gauges_in_path[0]

    @property
    def words(self) -> QuantityFormatter:
        """Figures as text in the units of whoever reads them."""
        return QuantityFormatter(self.display)

    def moment(self) -> Moment:
        """Return now."""
        return Moment(self.clock.seconds(), self.clock.utc())

    def air(self) -> Surroundings:
        """Return the air at the bench, with what its sources and their age leave unsure."""
        return self.known_air.surroundings(self.instruments, self.moment())

    def unit_temperature(self, rebuild: Rebuild) -> BodyTemperature:
        """Return the temperature of the unit's body now, with its uncertainty."""
        return self._body_in(self.air(), rebuild)

    def around_unit(self, rebuild: Rebuild) -> Surroundings:
        """Return what the unit's gas is surrounded by: its own temperature, the air's pressure."""
        air = self.air()
        return around_unit(self._body_in(air, rebuild), air)

    def _body_in(self, air: Surroundings, rebuild: Rebuild) -> BodyTemperature:
        drift = self.known_air.limits.room_drift_k_s
        return unit_temperature(rebuild, air, self.clock.utc(), drift)

    def conditions(self, rebuild: Rebuild) -> tuple[Condition, ...]:
        """Return what a result of now is judged with, and from what each is known."""
        now, known = self.moment(), self.known_air
        air = tuple(
            known.evidence(quantity, self.instruments, now).condition(now.utc, known.limits)
            for quantity in (AirQuantity.TEMPERATURE, AirQuantity.PRESSURE)
        )
        return (*air, condition_of(rebuild, self.unit_temperature(rebuild), now.utc))

    def show_in(self, system: UnitSystem) -> None:
        """Show and say everything in these units from now on."""
        self.display = system

    def begin_study(self, run: RepeatabilityRun) -> None:
        """Follow a repeatability run from now on, in place of any other."""
        self.study = run

    def end_study(self) -> None:
        """Follow no repeatability run any more."""
        self.study = None

    def pick_photos_from(self, folder: Path | None) -> None:
        """Take the newest picture from this folder where one is asked for."""
        self.photo_folder = folder

    def say_of_shop(self, note: Callable[[datetime], str]) -> None:
        """Take note of who says how this bench and its shop stand to each other."""
        self.shop_note = note

    def keep_copies(self, copies: CopyKeeper) -> None:
        """Take note of who copies the records to a second place."""
        self.copies = copies

    def change_settings(self, changed: Settings, facts: Sequence[Event]) -> None:
        """Put changed settings on record and in their file, and go by them from now on."""
        before = self.settings.now
        self.settings.put_in_place(changed)
        try:
            self.journal(facts)
        except StationError:
            self.settings.put_in_place(before)
            raise
        self.go_by(self.settings)

    def work_for_real(self, *, real: bool) -> None:
        """Take note whether this bench was set up for work: there no virtual device measures."""
        self.real_bench = real

    def go_by(self, settings: BenchSettings) -> None:
        """Go by these settings from now on."""
        self.settings, now = settings, settings.now
        self.shop.take_settings(now.shop, now.path_ratings, now.fill_tool_volume_m3)
        self.pick_photos_from(now.photo_folder)
        self.signed_in.idle.sign_out_after(now.sign_out_after_s)
        self.instruments.check_daily(now.checked_daily)
        self.known_air.go_by(now)
        if now.instruments:
            self._take_path(tuple(gauge.id for gauge in now.gauges_in_path))
        self._tell_limits()

    def _take_path(self, path: tuple[str, ...]) -> None:
        """Have the guard judge these gauges and no other, that in the fill line first."""
        if path == tuple(gauge.id for gauge in self.instruments.gauges_in_path):
            return
        self.instruments = replace(self.instruments, path=path)
        judged = self.watch.gauges
        for gauge in self.instruments.gauges_in_path:
            if gauge.id not in judged:
                self.watch.follow(gauge.instrument, gauge.id)
        self.watch.judge_only(path)

    def journal(
        self,
        events: Sequence[Event],
        traces: Sequence[Trace] = (),
        photos: Mapping[str, bytes] | None = None,
    ) -> None:
        """Put facts on record as whoever is signed in says them."""
        if events:
            self.to_write.write()
            written = self.on_bench.journal(events, self._who(), self.clock.utc(), traces, photos)
            for entry in written:
                self.known_air.note(entry, self.clock.seconds())
                self.day_book.note(entry)

    def keep(self, events: Sequence[Event], traces: Sequence[Trace]) -> None:
        """Keep what the guard found for the journal: it waits for no disk."""
        self.to_write.keep(WaitingFacts(events, traces, self._who(), self.clock.utc()))

    def note(self, *events: Event) -> None:
        """Put on record what happened with the people here; a full disk holds nobody up."""
        self.keep(events, ())
        self.to_write.write_when_due(self.clock.seconds())

    def proves(self, person: Person, pin: str, where: str) -> bool:
        """Return True when this is the person's PIN; a wrong one counts and is on record."""
        right = self.signed_in.proves(person, pin, where, self.clock.seconds())
        if not right:
            self.note_wrong(person.person_id, where)
        return right

    def note_wrong(self, whose: str, where: str) -> None:
        """Put the wrong tries on record, as they were counted."""
        self.note(PinRefused(whose, where, self.signed_in.tries[whose].failures))

    def sign(self, signature: str, field: str = SIGNATURE) -> None:
        """Raise unless this is the PIN of whoever is signed in; ``field`` has it."""
        assert self.person is not None
        person = self.shop.people[self.person.person_id]
        if not person.pin_hash:
            raise NotAllowedError(
                "this is signed with a PIN, and you have none.",
                where=person.name,
                advice="Set one on the People page.",
            )
        if not signature:
            raise NotAllowedError(
                "this is signed with your PIN.",
                where=person.name,
                advice="Type it.",
                field=field,
            )
        if not self.proves(person, signature, AT_SIGNATURE):
            raise NotAllowedError(
                "this is not your PIN; nothing was changed.",
                where=person.name,
                advice="Type it again.",
                field=field,
            )

    def _who(self) -> str:
        return self.person.person_id if self.person else NOBODY

    def _write_waiting(self, facts: WaitingFacts) -> None:
        self.on_bench.journal(facts.events, facts.person, facts.utc, facts.traces)

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
        self.signed_in.idle.stir(self.clock.seconds())
        self.refuse_badges(command)
        if isinstance(command, SignedCommand):
            self.sign(command.signature)
        message = command(self)
        if message.text:
            self.message = message
        self.enter_step()
        return message.text

    def day_lines(self) -> tuple[DayLine, ...]:
        """Return the lines of the start of this day."""
        standing = self.copies.standing if self.copies is not None else None
        return day_lines(self.day_book, self.known_air, self.instruments, self.moment(), standing)

    def choose_scale(self, purpose: Purpose | None = None) -> None:
        """Weigh on the scale that suits the step at hand; on record where there are several."""
        rebuild, step = self.rebuild, self.rebuild.current if self.rebuild else None
        if rebuild is None or step is None or rebuild.proof_due:
            return
        chosen = scale_for(
            self.instruments.of(InstrumentRole.SCALE),
            rebuild,
            step,
            purpose or main_purpose(step),
            self.clock.seconds(),
            day_of(self.clock.utc()),
        )
        if chosen is not None:
            self.weigh_on(chosen)

    def weigh_on(self, chosen: ScaleChosen) -> None:
        """Weigh on a chosen scale, and put the choice on record where it is another."""
        if self.rebuild is not None and (self.rebuild.scales or {}).get(chosen.step_id) != chosen:
            self.journal([chosen])
        self.work.weigh_on(chosen.scale_id)

    def exchange(self, fitted: BenchInstrument, instead_of: str) -> None:
        """Take an instrument into use, in place of another where that is named."""
        self.instruments = self.instruments.with_instrument(fitted, instead_of)
        if fitted in self.instruments.gauges_in_path:
            self.watch.follow(fitted.instrument, fitted.id, instead_of)
        self._tell_limits()

    def _tell_limits(self) -> None:
        if not self.instruments.gauges_in_path:
            return
        self.watch.set_limits(
            self.shop.limits_at(self.rebuild, self.gauge.instrument.silent_after_s)
        )

    def say(self, sentence: str, severity: Severity = Severity.NORMAL) -> str:
        """Tell whoever stands here, and give the sentence back."""
        self.message = Message(sentence, severity)
        return sentence

    def refuse_badges(self, given: object) -> None:
        """Raise when a badge stands in a text that may go on record; before anything is done."""
        people, salts = self.shop.people.values(), self.shop.badge_salts
        self.badge_texts.refuse(texts_of(given), people, salts)

    def enter_step(self) -> None:
        """Make the live parts of the step at hand; those of another step go."""
        rebuild = self.rebuild
        key = key_of(rebuild)
        if key == self.work.key:
            return
        if rebuild is not None:
            self.journal(self.work.leave(rebuild))
            rebuild = self.rebuild
        self._tell_limits()
        self.work = StepWork(key)
        self.choose_scale()
        if rebuild is not None:
            self.work = work_at(
                key,
                rebuild,
                self.shop,
                self.store,
                self.scale,
                self.gauge,
                self.around_unit(rebuild),
            )
