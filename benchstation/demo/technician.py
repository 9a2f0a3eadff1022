"""A technician's work as a script: it looks at the bench, moves the hand, and presses keys.

The script holds no state of the unit: it does what the route's current step asks for, so it goes on
after a restart at the same step. It is a generator that yields whenever time may pass.
"""

import random
from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass, field

from benchstation.bench.air_locks import rests_on
from benchstation.bench.capture.unit_weighing import UnitPhase
from benchstation.bench.capture.weighing import Phase
from benchstation.bench.commands.capturing import EMPTIED
from benchstation.bench.gas_weighing import wanted
from benchstation.bench.session import BenchSession
from benchstation.bench.targets import present_oil_target, present_pour
from benchstation.demo.air_reading import HERE_FOR, read_air
from benchstation.demo.recording import photograph, typed_at
from benchstation.demo.world import World
from benchstation.domain.can_lots import unconfirmed
from benchstation.domain.form_fields import SIGNATURE
from benchstation.domain.gas_mass import missing_proof
from benchstation.domain.guard import AlarmKind
from benchstation.domain.inputs.confirmation import Confirmation
from benchstation.domain.inputs.given import YES
from benchstation.domain.inputs.photos import Photos
from benchstation.domain.inputs.quantity import Measure
from benchstation.domain.oil_balance import Purpose
from benchstation.domain.people import Person
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.refusals import NotAllowedError
from benchstation.domain.specification import Method, Step, StepKind
from benchstation.domain.unweighed import emptied_field, statements
from benchstation.driver_api.errors import StationError
from benchstation.metrology.conformity import Decision

PASS = Decision.PASS.value
PRESSED = frozenset(kind for kind in AlarmKind if not kind.of_signal)
Script = Callable[[], Iterator[str]]
"""What is done at one step; yields a word whenever time may pass."""
TARE_TRIES = 5
CAPTURE_TRIES = 8
TOUCH_KG, TOUCH_S, TOUCHES = 0.01, 0.5, 3


class RehearsalError(StationError):
    """The virtual technician waits for something that does not come."""


@dataclass(frozen=True, slots=True)
class Plan:
    """Which unit, by whom, and how well the hand hits what it aims at."""

    serial: str
    specification_id: str
    lot: str
    technician: Person
    lead: Person
    order: str = ""
    position: str = ""
    oil_error_kg: float = 0.0
    """Bled too much by this; a large one ends in a deviation."""
    charge_error_pa: float = 0.0
    careless_valve: bool = False
    """Leaves the bottle valve open until the warning sounds."""
    reads_air: bool = True
    """Types what the wall shows where no instrument reads it."""
    here_for: str = HERE_FOR
    """How long the unit is said to be in this room; empty: nothing is said of it."""
    notes: dict[str, str] = field(default_factory=dict)


@dataclass(slots=True)
class Technician:
    """Works one unit through the route. ``pin`` signs everyone in.

    ``scripts`` says by a step's id what is done there instead of the usual: a fault is played so.
    """

    session: BenchSession
    world: World
    plan: Plan
    pins: Callable[[Person], str]
    random: random.Random
    scripts: Mapping[str, Script] = field(default_factory=dict)
    waits: bool = False
    """True while the hand rests and only time passes."""

    def work(self) -> Iterator[str]:
        """Return a word of progress whenever time may pass; ends when the unit is filed."""
        self.sign_in(self.plan.technician)
        if self.session.rebuild is None or self.session.rebuild.ended:
            self._open()
        while True:
            rebuild = self.session.unit()
            step = rebuild.current
            assert step is not None
            script = self.scripts.get(step.id)
            yield from script() if script is not None else self.usual(rebuild, step)
            if self.session.rebuild is None or self.session.rebuild.ended:
                return

    def sign_in(self, person: Person) -> None:
        """Sign a person in who is not signed in already."""
        if self.session.person is None or self.session.person.person_id != person.person_id:
            self.session.act("sign_in", {"person": person.person_id, "pin": self.pins(person)})

    def _open(self) -> None:
        plan, session = self.plan, self.session
        session.act(
            "open",
            {
                "serial": plan.serial,
                "specification": plan.specification_id,
                "lot": plan.lot,
                "order": plan.order,
                "position": plan.position,
            },
        )
        lot = session.shop.lots[plan.lot]
        self.world.bring_in(session.unit().specification, lot.rho15_kg_m3)
        self.read_air()

    def read_air(self) -> None:
        """Type what is known of air and unit, where the plan wants it."""
        if self.plan.reads_air:
            read_air(self.session, self.world, self.plan.here_for)

    def usual(self, rebuild: Rebuild, step: Step) -> Iterator[str]:
        """Do what a careful technician does at this step."""
        if rests_on(rebuild.specification, step):
            self.read_air()
        match step.kind:
            case StepKind.CONFIRM if step == rebuild.specification.seal_off:
                yield from self.seal_off(rebuild, step)
            case StepKind.RELEASE:
                yield from self.release(rebuild, step)
            case StepKind.WEIGH:
                yield from self.weigh(step)
            case StepKind.BLEED:
                yield from self.bleed(step)
            case StepKind.CHARGE:
                yield from self.charge(step)
            case StepKind.SECOND:
                yield from self.second_reading(step)
            case StepKind.FILE:
                if wanted(self.session, rebuild):
                    yield from self.weigh_unit(step)
                for lot in unconfirmed(rebuild):
                    self.scan_can(lot)
                if missing_proof(rebuild := self.session.unit()) and not rebuild.deviated(step.id):
                    yield from self.deviate(step, "the gas is not proven; seen by the lead")
                self.session.act("file", {})
                yield step.title
            case _:
                yield from self.pause(2.0, step.title)
                if self.session.work.steadying is not None:
                    yield from self.until(self.is_steady, step.title, 60.0)
                if any(isinstance(asked.input, Photos) for asked in step.asked):
                    photograph(self.session, sum(self.plan.serial.encode()))
                yield from self._sign_typed(rebuild, step)

    def _sign_typed(self, rebuild: Rebuild, step: Step) -> Iterator[str]:
        """Sign with what is typed; a value outside its limits waits for a lead."""
        typed = typed_at(self.session, rebuild, step, self.plan.notes, self.random)
        for asked in step.asked:
            if isinstance(asked.input, Measure) and asked.input.reference:
                area = rebuild.specification.geometry.model().rod_area_m2
                typed[asked.name] = f"{self.world.model.gas_gauge_pa * area:.0f} N"
        try:
            self.session.act("sign", typed)
        except NotAllowedError:
            yield from self.deviate(step, "measured outside; seen by the lead")
            if self.still_at(step):
                self.session.act("sign", typed)
        yield step.title

    # --- waiting -------------------------------------------------------------------------------

    def now(self) -> float:
        """Return the bench time in s."""
        return self.session.clock.seconds()

    def pause(self, seconds: float, word: str) -> Iterator[str]:
        """Let time pass."""
        end = self.now() + seconds
        self.waits = True
        while self.now() < end:
            yield word
        self.waits = False

    def until(self, condition: Callable[[], bool], word: str, seconds: float) -> Iterator[str]:
        """Wait for a condition; raise when it does not come within ``seconds``."""
        end = self.now() + seconds
        while not condition():
            if self.now() > end:
                raise RehearsalError(
                    f"waited {seconds:.0f} s in vain at '{word}'; the bench says: "
                    f"{self.session.message.text}",
                    where=self.plan.serial,
                )
            yield word

    def rest(self, condition: Callable[[], bool], word: str, seconds: float) -> Iterator[str]:
        """Wait for what the bench does by itself, with idle hands."""
        self.waits = True
        yield from self.until(condition, word, seconds)
        self.waits = False

    # --- steps ---------------------------------------------------------------------------------

    def sign_form(self, step: Step) -> None:
        """Sign with every statement ticked and every note filled in."""
        rebuild = self.session.unit()
        typed = typed_at(self.session, rebuild, step, self.plan.notes, self.random)
        self.session.act("sign", typed)

    def release(self, rebuild: Rebuild, step: Step) -> Iterator[str]:
        """Let the gas out, sign, and take the unit apart."""
        band = rebuild.specification.gas.release_zero_band

        def shown() -> float | None:
            return self.session.gauge.good_value(self.now())

        def empty() -> bool:
            gauge = shown()
            return gauge is not None and abs(gauge) < 0.5 * band

        # After a start the line may not be open yet: what falls before is seen by nobody.
        yield from self.until(lambda: shown() is not None, step.title, 30.0)
        self.world.model.open_gas_screw()
        self.world.model.vent_opening = 0.2
        yield from self.until(empty, step.title, 120.0)
        # Gas that expanded is cold: what is left would rise again behind a closed screw.
        yield from self.pause(3.0, step.title)
        self.sign_form(step)
        self.world.model.put_on_pan("body")
        self.world.model.put_on_pan("nothing")
        self.world.model.vent_opening = 0.0

    def seal_off(self, rebuild: Rebuild, step: Step) -> Iterator[str]:
        """Close the gas screw, let the fill line down, and sign when the gauge says so."""
        model, band = self.world.model, rebuild.specification.gas.release_zero_band
        yield from self.pause(2.0, step.title)
        model.close_gas_screw()
        # An emptied unit shows zero too: what is said of the screw is said while pressure stands.
        first = [asked.name for asked in step.asked if isinstance(asked.input, Confirmation)][:-1]
        self.session.act("typed", dict.fromkeys(first, YES))
        model.vent_opening = 0.1
        yield from self.until(lambda: self.gauge_pa() < 0.5 * band, step.title, 120.0)
        # The line stays open to the air: a gauge whose zero moved would go on to where that is.
        yield from self.pause(3.0, step.title)
        try:
            self.sign_form(step)
        except NotAllowedError:
            # The station was started anew while the line was vented: nobody saw it fall.
            typed = typed_at(self.session, rebuild, step, self.plan.notes, self.random)
            yield from self.deviate(step, "the fall was not seen; seen by the lead", typed)
        model.vent_opening = 0.0
        yield step.title

    def is_steady(self) -> bool:
        """Return True when the instrument of the step gives a steady value."""
        steadying = self.session.work.steadying
        return steadying is not None and steadying.taken(self.now()) is not None

    def tare(self, step: Step) -> Iterator[str]:
        """Tare until it is proven; what was not weighed is undone first.

        Before a pour the can is scanned, once.
        """
        unit = self.session.unit()
        if step.kind is StepKind.WEIGH and unit.oil_lot not in unit.lots_confirmed:
            self.scan_can(unit.oil_lot)
        for _ in range(TARE_TRIES):
            yield from self.pause(1.0, step.title)
            self.session.act("tare", {})
            if self.session.work.open_form == EMPTIED:
                self.undo(step)
                asked = statements(self.session.unit().unweighed)
                self.session.act(
                    "tare", {emptied_field(n): "yes" for n in range(1, len(asked) + 1)}
                )
            yield from self.until(lambda: self.phase() is not Phase.TARING, step.title, 40.0)
            if self.phase() is Phase.POURING:
                return
        raise RehearsalError("the tare cannot be proven", where=self.plan.serial)

    def begin_pour(self, step: Step) -> Iterator[str]:
        """Put on the scale what the oil is weighed in, and tare."""
        loss = self.session.unit().method is Method.LOSS
        self.world.model.put_on_pan("jug" if loss else "body")
        yield from self.tare(step)

    def undo(self, step: Step) -> None:
        """Put back what was moved and not weighed: into the jug, or from the tray into the unit."""
        model, unit = self.world.model, self.session.unit()
        if step.kind is StepKind.BLEED and self.session.work.weighing is not None:
            back = self.session.work.weighing.plan.purpose is Purpose.BLEED
            model.bleed(-model.tray_kg if back else 0.0)
        weighed = (unit.net_shown_kg or 0.0) / present_oil_target(self.session).buoyancy
        model.take_out(max(0.0, model.oil_kg - weighed))

    def phase(self) -> Phase | None:
        """Return what the weighing waits for."""
        return self.session.work.weighing.phase if self.session.work.weighing else None

    def shown_kg(self) -> float:
        """Return what the scale shows."""
        sample = self.session.scale.instrument.latest()
        return sample.value if sample else 0.0

    def capture(self, step: Step) -> Iterator[str]:
        """Capture, and wait for a judgement; the step is signed by itself when it passes."""
        before = len(self.session.unit().captures)
        self.session.act("capture", {})

        def captured() -> bool:
            rebuild = self.session.rebuild
            return rebuild is not None and len(rebuild.captures) > before

        def wants_a_touch() -> bool:
            weighing = self.session.work.weighing
            return weighing is not None and weighing.unanswered(self.now())

        for _ in range(TOUCHES):
            yield from self.until(lambda: captured() or wants_a_touch(), step.title, 60.0)
            if captured():
                return
            # A press that is held comes to rest itself, and then it is no touch any more.
            self.world.model.pressed_kg = TOUCH_KG
            yield from self.pause(TOUCH_S, step.title)
            self.world.model.pressed_kg = 0.0
            yield from self.until(lambda: captured() or not wants_a_touch(), step.title, 60.0)
        yield from self.until(captured, step.title, 60.0)

    def still_at(self, step: Step) -> bool:
        """Return True when the route stands at this step."""
        rebuild = self.session.rebuild
        return rebuild is not None and rebuild.current is not None and rebuild.current == step

    def left_kg(self, goal: float) -> float:
        """Return what is missing to ``goal`` on the display."""
        weighing = self.session.work.weighing
        assert weighing is not None
        return goal - weighing.poured_kg(self.shown_kg())

    def weigh(self, step: Step) -> Iterator[str]:
        """Pour to the target and capture."""
        model = self.world.model
        if self.session.unit().method is Method.DIFFERENCE:
            yield from self.difference(step)
        else:
            yield from self.begin_pour(step)
        for _ in range(CAPTURE_TRIES):
            goal = present_pour(self.session).goal_kg
            yield from self.pour_to(step, goal)
            over = -self.left_kg(goal)
            if over > 0.0008:
                model.take_out(over)
                yield from self.pause(1.0, step.title)
            yield from self.capture(step)
            if not self.still_at(step):
                return
        yield from self.deviate(step, "cannot be poured closer with this jug")

    def pour_to(self, step: Step, goal: float) -> Iterator[str]:
        """Pour until the display stands at ``goal``."""
        while (left := self.left_kg(goal)) > 0.0008:
            # The stream thins towards the end; a third of a second is still on its way.
            self.world.model.pour_opening = min(1.0, 0.02 + left / 0.06)
            yield step.title
        self.world.model.pour_opening = 0.0
        yield from self.pause(2.0, step.title)

    def scan_can(self, lot: str) -> None:
        """Scan the can that the oil is poured from."""
        self.session.act("confirm_lot", {"lot": lot})

    def difference(self, step: Step) -> Iterator[str]:
        """Weigh the empty body, fill it roughly beside the scale, and put it back."""
        model = self.world.model
        model.put_on_pan("nothing")
        yield from self.tare(step)
        model.put_on_pan("body")
        yield from self.pause(1.0, step.title)
        yield from self.capture(step)
        model.put_on_pan("nothing")
        goal = present_pour(self.session).goal_kg
        model.pour_opening = 0.5
        yield from self.until(lambda: model.oil_kg > 0.9 * goal, step.title, 120.0)
        model.pour_opening = 0.0
        yield from self.pause(1.0, step.title)
        yield from self.tare(step)
        model.put_on_pan("body")
        yield from self.pause(2.0, step.title)

    def bleed(self, step: Step) -> Iterator[str]:
        """Let the surplus run into the tray and capture it."""
        model = self.world.model
        model.put_on_pan("tray")
        yield from self.tare(step)
        surplus = max(0.0, present_pour(self.session).goal_kg + self.plan.oil_error_kg)
        model.bleed(surplus)
        # On a busy machine readings come late; a capture before them would be of an empty tray.
        yield from self.until(lambda: self.left_kg(surplus) <= 0.5 * surplus, step.title, 60.0)
        yield from self.pause(2.0, step.title)
        yield from self.capture(step)
        if self.still_at(step):
            yield from self.deviate(step, "bled past the mark; within what the family tolerates")
        model.put_on_pan("nothing")

    def charge(self, step: Step) -> Iterator[str]:
        """Let gas in to the target, capture it settled, and hold."""
        if wanted(self.session, self.session.unit()):
            yield from self.weigh_unit(step)
        goal = self.charge_goal_pa()
        self.world.model.open_gas_screw()
        self.world.model.regulator_gauge_pa = 1.8 * goal
        if self.plan.careless_valve:
            yield from self.overshoot(step, 1.2 * self.session.watch.limits.warning_gauge_pa)
            self.acknowledge("valve left open too long; bled back")
            self.world.model.regulator_gauge_pa = 1.4 * goal
        for _ in range(CAPTURE_TRIES):
            # The target follows the unit's temperature, which may be known better by now.
            yield step.title
            yield from self.fill(step, self.charge_goal_pa())
            yield from self.settle(step)
            charge = self.session.unit().charge
            if charge is not None and charge.decision == PASS:
                break
        yield from self.hold(step)

    def weigh_unit(self, step: Step) -> Iterator[str]:
        """Weigh the whole unit, for the gas in it."""
        model = self.world.model
        model.put_on_pan("nothing")
        yield from self.pause(1.0, step.title)
        self.session.act("weigh_unit", {})
        weighing = self.session.work.unit_weighing
        assert weighing is not None
        yield from self.until(lambda: weighing.phase is UnitPhase.UNIT, step.title, 60.0)
        model.put_on_pan("unit")
        yield from self.until(lambda: self.session.work.unit_weighing is None, step.title, 60.0)
        model.put_on_pan("nothing")

    def second_reading(self, step: Step) -> Iterator[str]:
        """Weigh the sealed unit and let it wait; weigh it again when that is due."""
        if wanted(self.session, self.session.unit()):
            yield from self.weigh_unit(step)
            yield from self.pause(1.0, step.title)
        if self.still_at(step):
            self.session.act("let_wait", {})

    def charge_goal_pa(self) -> float:
        """Return the gauge pressure that the hand aims at."""
        assert self.session.work.charge_target is not None
        return self.session.work.charge_target.target_gauge_pa + self.plan.charge_error_pa

    def hold(self, step: Step) -> Iterator[str]:
        """Run the hold test until it signs the step; what fails waits for a lead."""
        while self.still_at(step):
            self.session.act("hold", {})
            yield from self.rest(lambda: not self.session.work.hold_wanted, step.title, 300.0)
            if self.still_at(step) and self.session.unit().hold is not None:
                yield from self.deviate(step, "accepted by the lead for this vehicle")

    def gauge_pa(self) -> float:
        """Return what the gauge showed last."""
        sample = self.session.gauge.instrument.latest()
        return sample.value if sample else 0.0

    def fill(self, step: Step, goal: float) -> Iterator[str]:
        """Let gas in past the goal by what will be lost as it cools; vent when it is too much."""
        model, charging = self.world.model, self.session.work.charging
        assert charging is not None
        fit = charging.settling(self.now())
        rest = fit.final_pa if fit is not None and fit.certain else self.gauge_pa()
        missing = goal - rest
        start = self.gauge_pa()
        if missing > 0:
            # A first fill from empty loses about an eighth of its rise to the tube's wall.
            aim = start + missing * (1.165 if start < 0.3 * goal else 1.02)
            model.valve_opening = 1.0 if missing > 0.2 * goal else 0.15
            yield from self.until(lambda: self.gauge_pa() >= aim, step.title, 180.0)
        elif missing < 0:
            aim = start + missing
            model.vent_opening = 0.003
            yield from self.until(lambda: self.gauge_pa() <= aim, step.title, 180.0)
        model.valve_opening = model.vent_opening = 0.0

    def settle(self, step: Step) -> Iterator[str]:
        """Ask for the capture and wait for it."""
        session = self.session
        yield from self.pause(3.0, step.title)
        session.act("capture", {})
        yield from self.rest(lambda: not session.work.charge_wanted, step.title, 300.0)

    def overshoot(
        self, step: Step, regulator_gauge_pa: float, awaited: Collection[AlarmKind] = PRESSED
    ) -> Iterator[str]:
        """Leave the bottle valve open until one of these alarms comes, then vent below the goal."""
        session, model = self.session, self.world.model
        model.regulator_gauge_pa = regulator_gauge_pa
        model.valve_opening = 1.0
        yield from self.until(
            lambda: any(a.kind in awaited for a in session.watch.snapshot().alarms),
            step.title,
            240.0,
        )
        model.valve_opening = 0.0
        model.vent_opening = 0.01
        goal = self.charge_goal_pa()
        yield from self.until(lambda: self.gauge_pa() < 0.9 * goal, step.title, 240.0)
        model.vent_opening = 0.0

    def acknowledge(self, reason: str) -> None:
        """Acknowledge every open alarm."""
        assert self.session.person is not None
        watch = self.session.watch
        for alarm in watch.snapshot().alarms:
            watch.acknowledge(self.session.person.person_id, reason, alarm.episode)

    def deviate(
        self, step: Step, reason: str, typed: Mapping[str, str] | None = None
    ) -> Iterator[str]:
        """Have the lead accept what the step shows, with what stands in its form."""
        self.sign_in(self.plan.lead)
        signed = {"reason": reason, SIGNATURE: self.pins(self.plan.lead)}
        self.session.act("deviation", {**(typed or {}), **signed})
        self.sign_in(self.plan.technician)
        yield step.title
