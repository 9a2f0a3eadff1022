"""A technician's work as a script: it looks at the bench, moves the hand, and presses keys.

The script holds no state of the unit: it does what the route's current step asks for, so it goes on
after a restart at the same step. It is a generator that yields whenever time may pass.
"""

import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from benchstation.bench.capture.weighing import Phase
from benchstation.bench.commands.capturing import EMPTIED
from benchstation.bench.session import BenchSession
from benchstation.demo.recording import photograph, typed_at
from benchstation.demo.world import World
from benchstation.domain.oil_balance import Purpose
from benchstation.domain.people import Person
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.seal_off import seal_off_of
from benchstation.domain.specification import Method, Step, StepKind
from benchstation.domain.unweighed import emptied_field, statements
from benchstation.driver_api.errors import StationError
from benchstation.metrology.conformity import Decision

PASS = Decision.PASS.value
TARE_TRIES = 5
CAPTURE_TRIES = 8


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
    notes: dict[str, str] = field(default_factory=dict)


@dataclass(slots=True)
class Technician:
    """Works one unit through the route. ``pin`` signs everyone in."""

    session: BenchSession
    world: World
    plan: Plan
    pins: Callable[[Person], str]
    random: random.Random

    def work(self) -> Iterator[str]:
        """Return a word of progress whenever time may pass; ends when the unit is filed."""
        session = self.session
        self._sign_in(self.plan.technician)
        if session.rebuild is None or session.rebuild.ended:
            self._open()
        while True:
            rebuild = session.unit()
            step = rebuild.current
            assert step is not None
            yield from self._do(rebuild, step)
            if session.rebuild is None or session.rebuild.ended:
                return

    def _sign_in(self, person: Person) -> None:
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

    def _do(self, rebuild: Rebuild, step: Step) -> Iterator[str]:
        match step.kind:
            case StepKind.CONFIRM if step == seal_off_of(rebuild.specification):
                yield from self._seal_off(rebuild, step)
            case StepKind.CONFIRM:
                yield from self._pause(2.0, step.title)
                self._sign_form(step)
                yield step.title
            case StepKind.RELEASE:
                yield from self._release(rebuild, step)
            case StepKind.MEASURE if self.session.steadying is not None:
                yield from self._pause(2.0, step.title)
                yield from self._until(self._is_steady, step.title, 60.0)
                self._sign_form(step)
                yield step.title
            case StepKind.WEIGH:
                yield from self._weigh(step)
            case StepKind.BLEED:
                yield from self._bleed(step)
            case StepKind.CHARGE:
                yield from self._charge(step)
            case StepKind.FILE:
                self.session.act("file", {})
                yield step.title
            case _:
                yield from self._pause(2.0, step.title)
                if step.kind is StepKind.PHOTO:
                    photograph(self.session, sum(self.plan.serial.encode()))
                self._sign_form(
                    step, **typed_at(self.session, rebuild, step, self.plan.notes, self.random)
                )
                yield step.title

    # --- waiting -------------------------------------------------------------------------------

    def _now(self) -> float:
        return self.session.clock.seconds()

    def _pause(self, seconds: float, word: str) -> Iterator[str]:
        end = self._now() + seconds
        while self._now() < end:
            yield word

    def _until(self, condition: Callable[[], bool], word: str, seconds: float) -> Iterator[str]:
        end = self._now() + seconds
        while not condition():
            if self._now() > end:
                raise RehearsalError(
                    f"waited {seconds:.0f} s in vain at '{word}'; the desk says: "
                    f"{self.session.message.text}",
                    where=self.plan.serial,
                )
            yield word

    # --- steps ---------------------------------------------------------------------------------

    def _sign_form(self, step: Step, **more: str) -> None:
        fields = {f"confirm{n}": "yes" for n in range(1, len(step.statements) + 1)}
        for note in step.notes:
            fields[note.id] = self.plan.notes.get(note.id, "")
        self.session.act("sign", {**fields, **more})

    def _release(self, rebuild: Rebuild, step: Step) -> Iterator[str]:
        band = rebuild.specification.gas.release_zero_band
        self.world.model.open_gas_screw()
        self.world.model.vent_opening = 0.5

        def empty() -> bool:
            gauge = self.session.gauge.good_value(self._now())
            return gauge is not None and abs(gauge) < 0.5 * band

        yield from self._until(empty, step.title, 120.0)
        # Gas that expanded is cold: what is left would rise again behind a closed screw.
        yield from self._pause(3.0, step.title)
        self._sign_form(step)
        self.world.model.put_on_pan("body")
        self.world.model.put_on_pan("nothing")
        self.world.model.vent_opening = 0.0

    def _seal_off(self, rebuild: Rebuild, step: Step) -> Iterator[str]:
        """Close the gas screw, let the fill line down, and sign when the gauge says so."""
        model, band = self.world.model, rebuild.specification.gas.release_zero_band
        yield from self._pause(2.0, step.title)
        model.close_gas_screw()
        model.vent_opening = 0.1
        yield from self._until(lambda: self._gauge_pa() < 0.5 * band, step.title, 120.0)
        model.vent_opening = 0.0
        self._sign_form(step)
        yield step.title

    def _is_steady(self) -> bool:
        steadying = self.session.steadying
        return steadying is not None and steadying.taken(self._now()) is not None

    def _tare(self, step: Step) -> Iterator[str]:
        for _ in range(TARE_TRIES):
            yield from self._pause(1.0, step.title)
            self.session.act("tare", {})
            if self.session.open_form == EMPTIED:
                self._undo(step)
                asked = statements(self.session.unit().unweighed)
                self.session.act(
                    "tare", {emptied_field(n): "yes" for n in range(1, len(asked) + 1)}
                )
            yield from self._until(lambda: self._phase() is not Phase.TARING, step.title, 40.0)
            if self._phase() is Phase.POURING:
                return
        raise RehearsalError("the tare cannot be proven", where=self.plan.serial)

    def _undo(self, step: Step) -> None:
        """Put back what was moved and not weighed: into the jug, or from the tray into the unit."""
        model, unit = self.world.model, self.session.unit()
        if step.kind is StepKind.BLEED and self.session.weighing is not None:
            back = self.session.weighing.plan.purpose is Purpose.BLEED
            model.bleed(-model.tray_kg if back else 0.0)
        weighed = (unit.net_shown_kg or 0.0) / self.session.oil_target().buoyancy
        model.take_out(max(0.0, model.oil_kg - weighed))

    def _phase(self) -> Phase | None:
        return self.session.weighing.phase if self.session.weighing else None

    def _shown_kg(self) -> float:
        sample = self.session.scale.instrument.latest()
        return sample.value if sample else 0.0

    def _capture(self, step: Step) -> Iterator[str]:
        """Capture, and wait for a judgement; the step is signed by itself when it passes."""
        before = len(self.session.unit().captures)
        self.session.act("capture", {})

        def captured() -> bool:
            rebuild = self.session.rebuild
            return rebuild is not None and len(rebuild.captures) > before

        yield from self._until(captured, step.title, 60.0)

    def _still_at(self, step: Step) -> bool:
        rebuild = self.session.rebuild
        return rebuild is not None and rebuild.current is not None and rebuild.current == step

    def _left_kg(self, goal: float) -> float:
        weighing = self.session.weighing
        assert weighing is not None
        return goal - weighing.poured_kg(self._shown_kg())

    def _weigh(self, step: Step) -> Iterator[str]:
        model, method = self.world.model, self.session.unit().method
        if method is Method.DIFFERENCE:
            yield from self._difference(step)
        else:
            model.put_on_pan("jug" if method is Method.LOSS else "body")
            yield from self._tare(step)
        for _ in range(CAPTURE_TRIES):
            goal = self.session.standing().goal_kg
            while (left := self._left_kg(goal)) > 0.0008:
                # The stream thins towards the end; a third of a second is still on its way.
                model.pour_opening = min(1.0, 0.02 + left / 0.06)
                yield step.title
            model.pour_opening = 0.0
            yield from self._pause(2.0, step.title)
            over = -self._left_kg(goal)
            if over > 0.0008:
                model.take_out(over)
                yield from self._pause(1.0, step.title)
            yield from self._capture(step)
            if not self._still_at(step):
                return
        yield from self._deviate(step, "cannot be poured closer with this jug")

    def _difference(self, step: Step) -> Iterator[str]:
        """Weigh the empty body, fill it roughly beside the scale, and put it back."""
        model = self.world.model
        model.put_on_pan("nothing")
        yield from self._tare(step)
        model.put_on_pan("body")
        yield from self._pause(1.0, step.title)
        yield from self._capture(step)
        model.put_on_pan("nothing")
        goal = self.session.standing().goal_kg
        model.pour_opening = 0.5
        yield from self._until(lambda: model.oil_kg > 0.9 * goal, step.title, 120.0)
        model.pour_opening = 0.0
        yield from self._pause(1.0, step.title)
        yield from self._tare(step)
        model.put_on_pan("body")
        yield from self._pause(2.0, step.title)

    def _bleed(self, step: Step) -> Iterator[str]:
        model = self.world.model
        model.put_on_pan("tray")
        yield from self._tare(step)
        surplus = max(0.0, self.session.standing().goal_kg + self.plan.oil_error_kg)
        model.bleed(surplus)
        # On a busy machine readings come late; a capture before them would be of an empty tray.
        yield from self._until(lambda: self._left_kg(surplus) <= 0.5 * surplus, step.title, 60.0)
        yield from self._pause(2.0, step.title)
        yield from self._capture(step)
        if self._still_at(step):
            yield from self._deviate(step, "bled past the mark; within what the family tolerates")
        model.put_on_pan("nothing")

    def _charge(self, step: Step) -> Iterator[str]:
        session, model = self.session, self.world.model
        target = session.charge_target
        assert target is not None
        goal = target.target_gauge_pa + self.plan.charge_error_pa
        model.open_gas_screw()
        model.regulator_gauge_pa = 1.8 * goal
        if self.plan.careless_valve:
            yield from self._overshoot(step, goal)
        for _ in range(CAPTURE_TRIES):
            yield from self._fill(step, goal)
            yield from self._settle(step)
            charge = session.unit().charge
            if charge is not None and charge.decision == PASS:
                break
        while self._still_at(step):
            session.act("hold", {})
            yield from self._until(lambda: not session.hold_wanted, step.title, 300.0)
            rebuild = session.unit()
            if self._still_at(step) and rebuild.hold is not None:
                yield from self._deviate(step, "accepted by the lead for this vehicle")

    def _gauge_pa(self) -> float:
        sample = self.session.gauge.instrument.latest()
        return sample.value if sample else 0.0

    def _fill(self, step: Step, goal: float) -> Iterator[str]:
        """Let gas in past the goal by what will be lost as it cools; vent when it is too much."""
        model, charging = self.world.model, self.session.charging
        assert charging is not None
        fit = charging.settling(self._now())
        rest = fit.final_pa if fit is not None and fit.certain else self._gauge_pa()
        missing = goal - rest
        start = self._gauge_pa()
        if missing > 0:
            # A first fill from empty loses about an eighth of its rise to the tube's wall.
            aim = start + missing * (1.165 if start < 0.3 * goal else 1.02)
            model.valve_opening = 1.0 if missing > 0.2 * goal else 0.15
            yield from self._until(lambda: self._gauge_pa() >= aim, step.title, 180.0)
        elif missing < 0:
            aim = start + missing
            model.vent_opening = 0.003
            yield from self._until(lambda: self._gauge_pa() <= aim, step.title, 180.0)
        model.valve_opening = model.vent_opening = 0.0

    def _settle(self, step: Step) -> Iterator[str]:
        session = self.session
        yield from self._pause(3.0, step.title)
        session.act("capture", {})
        yield from self._until(lambda: not session.charge_wanted, step.title, 300.0)

    def _overshoot(self, step: Step, goal: float) -> Iterator[str]:
        session, model = self.session, self.world.model
        warning = session.watch.limits.warning_gauge_pa
        model.regulator_gauge_pa = 1.2 * warning
        model.valve_opening = 1.0
        yield from self._until(
            lambda: any(not a.kind.of_signal for a in session.watch.snapshot().alarms),
            step.title,
            240.0,
        )
        model.valve_opening = 0.0
        model.vent_opening = 0.01
        yield from self._until(lambda: self._gauge_pa() < 0.9 * goal, step.title, 240.0)
        model.vent_opening = 0.0
        assert session.person is not None
        for alarm in session.watch.snapshot().alarms:
            session.watch.acknowledge(
                session.person.person_id, "valve left open too long; bled back", alarm.episode
            )
        model.regulator_gauge_pa = 1.4 * goal

    def _deviate(self, step: Step, reason: str) -> Iterator[str]:
        self._sign_in(self.plan.lead)
        self.session.act("deviation", {"reason": reason})
        self._sign_in(self.plan.technician)
        yield step.title
