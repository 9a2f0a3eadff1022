"""No sequence of actions and faults files a unit without its evidence or loses a signed fact.

A hand that knows nothing presses everything, pulls plugs, turns valves and restarts the station.
Now and then a technician works a few seconds, so that the route is got through at all.
"""

import random

import pytest

from benchstation.bench.commands.table import COMMANDS as TABLE
from benchstation.bench.tare_loss import recover
from benchstation.demo import shop as demo
from benchstation.domain.events import (
    AlarmChanged,
    ChargeCaptured,
    DeviationSigned,
    HoldTested,
    MassCaptured,
    OilJudged,
    RebuildOpened,
    StepReopened,
    StepSigned,
    TareLost,
    TareProven,
    UnitFiled,
)
from benchstation.domain.guard import AlarmState
from benchstation.domain.rebuild import fold
from benchstation.domain.specification import StepKind
from benchstation.driver_api.errors import StationError
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.screens.bench.page import bench_view
from benchstation.screens.model.elements import FieldKind, FieldView
from benchstation.store.order_queries import units_at_hand
from sample_devices.bench_model import PAN
from tests.stepped_bench import make_bench

METRIC = QuantityFormatter(UnitSystem.METRIC)
SHORT, LONG = 350, 10_000
COMMANDS = (
    "sign", "sign", "tare", "capture", "cancel", "nothing_bled", "hold", "deviation", "back",
    "by_gain", "by_loss", "by_difference", "topup", "spill", "main", "again", "other_lot",
    "pour_rest", "by_hand", "take_by_hand", "ways", "leave",
    "abandon", "file", "file", "next", "open", "sign_out", "units", "no such action",
    "set_aside", "fetch", "fetch", "prove", "to_release", "hand_over", "take_over", "typed",
)  # fmt: skip
EVERYTHING = tuple(sorted(TABLE))
"""Pressed now and then: also what belongs to other pages."""
ENDS = ("abandon", "sign_out", "back", "switch", "hand_over")
PEOPLE = ("kofler", "wieland", "oberhauser", "anders")


class Hand:
    """Random hands on one bench; what the guard says is noted beside the journal."""

    def __init__(self, folder, seed: int) -> None:
        self.folder = folder
        self.chance = random.Random(seed)
        self.bench = make_bench(folder, seed=seed)
        self.serial = 0
        self.worker = None
        self.known: list[str] = []
        self.raised: set[str] = set()
        self.filed = 0

    def act(self, action: str, **fields: str) -> None:
        try:
            self.bench.session.act(action, fields)
        except StationError:
            return
        assert action != "no such action"

    def anything(self) -> None:
        chance, model = self.chance, self.bench.world.model
        roll = chance.random()
        if roll < 0.15:
            self.press_offered()
        elif roll < 0.30:
            self.press(chance.choice(EVERYTHING if chance.random() < 0.15 else COMMANDS))
        elif roll < 0.36:
            self.act("sign_in", person=chance.choice(PEOPLE), pin="246810")
        elif roll < 0.50:
            self.turn()
        elif roll < 0.54:
            self.fault()
        elif roll < 0.56:
            self.acknowledge()
        elif roll < 0.565:
            self.restart()
        elif roll < 0.80:
            self.work()
        else:
            model.pour_opening = 0.0
            self.bench.run(chance.uniform(0.1, 3.0))

    def press(self, action: str) -> None:
        fields = {f"confirm{n}": "yes" for n in range(1, self.chance.randint(1, 5))} | {
            "reason": self.chance.choice(["", "because"]),
            "note1": "weeping",
        }
        fields |= {
            "lot": "L-0421",
            "second": self.chance.choice(PEOPLE),
            "pin": "246810",
            **demo.SIGNED,
        }
        fields |= {"instrument": "Counter scale", "instrument_serial": "7", "by_hand": "3 g"}
        fields |= {"last_digit": "0.1 g", "expanded": "0.2 g"}
        fields["value1"] = self.chance.choice(["", "209.5 mm", "100 mm", "5 bar"])
        fields |= {"order": f"A-{self.chance.randint(1, 9)}", "family": "mr-46-front", "count": "2"}
        fields |= {"lot_open": "L-0421", "disposition": self.chance.choice(["release", "reject"])}
        # The one who works stays among the people, or nothing more is ever filed.
        fields |= {"person": self.chance.choice(PEOPLE[1:]), "technician": "yes", "lead": "yes"}
        at_hand = [unit.unit_id for unit in units_at_hand(self.bench.store)]
        fields["unit"] = self.chance.choice([*at_hand, "no such unit"])
        if action == "open":
            self.serial += 1
            self.worker = None
            fields |= {
                "serial": f"R-{self.serial}",
                "specification": "mr-46-front",
                "lot": "L-0417",
            }
        self.act(action, **fields)

    def press_offered(self) -> None:
        """Press one of the buttons that are there, with the form filled in somehow."""
        view = bench_view(self.bench.session, METRIC)
        # What ends all is pressed from the blind list alone, or no unit would get far;
        # some buttons are the window's own business.
        offered = [
            action
            for action in (*view.task.actions, *view.side_actions)
            if action.enabled and action.id in TABLE and action.id not in ENDS
        ]
        if not offered:
            return
        action = self.chance.choice(offered)
        fields = {field.id: self.filled(field) for field in view.task.fields}
        fields |= {"reason": "because"} if action.needs_reason else {}
        fields |= demo.SIGNED if action.needs_pin else {}
        self.act(action.id, **fields)

    def filled(self, field: FieldView) -> str:
        match field.kind:
            case FieldKind.CHECK:
                return self.chance.choice(("yes", "yes", "yes", ""))
            case FieldKind.CHOICE | FieldKind.STACK:
                pairs = [pair for narrowed in field.narrowed for pair in narrowed.choices]
                return self.chance.choice([v for v, _ in field.choices or pairs] or [""])
            case FieldKind.PIN:
                return "246810"
            case FieldKind.QUANTITY:
                return self.chance.choice(("209.5 mm", "209.6 mm", "8.4 N m", "3 g", "15 bar"))
        if field.id == "serial":
            self.serial += 1
            self.worker = None
            return f"R-{self.serial}"
        return field.value or "K-1"

    def turn(self) -> None:
        chance, model = self.chance, self.bench.world.model
        match chance.randrange(6):
            case 0:
                model.put_on_pan(chance.choice(PAN))
            case 1:
                model.pour_opening = chance.choice((0.0, 0.0, 0.5))
            case 2:
                model.regulator_gauge_pa = chance.uniform(5e5, 40e5)
            case 3:
                model.valve_opening = chance.choice((0.0, 0.0, 0.3))
            case 4:
                model.vent_opening = chance.choice((0.0, 0.0, 0.2))
            case 5:
                model.bleed(chance.uniform(0.0, 0.003))
        self.bench.run(0.5)
        model.pour_opening = model.valve_opening = model.vent_opening = 0.0

    def fault(self) -> None:
        chance, world = self.chance, self.bench.world
        match chance.randrange(5):
            case 0:
                role = chance.choice(("scale", "gauge"))
                self.bench.unplugged.add(role)
                fitted = getattr(self.bench.session, role)
                fitted.instrument.report_broken("the line was lost")
            case 1:
                world.gauge.sensor_fault = True
            case 2:
                world.scale.unit = "lb"
            case 3:
                world.scale.frozen = True
            case 4:
                world.scale.capacity_kg = 0.5
        self.bench.run(chance.uniform(0.2, 2.0))
        self.bench.unplugged.clear()
        world.gauge.sensor_fault = world.scale.frozen = False
        world.scale.unit, world.scale.capacity_kg = "g", 6.2

    def acknowledge(self) -> None:
        session = self.bench.session
        for alarm in session.watch.snapshot().alarms:
            if session.person is not None:
                session.watch.acknowledge(session.person.person_id, "seen", alarm.episode)
        self.bench.run(0.2)

    def work(self) -> None:
        """Let the technician go on for a while with whatever unit is there."""
        if self.worker is None:
            self.serial += 1
            self.worker = self.bench.technician(serial=f"R-{self.serial}").work()
        self.acknowledge()
        for _ in range(self.chance.randint(5, 400)):
            try:
                next(self.worker)
            except (StopIteration, StationError, AssertionError, KeyError):
                # The script is no part of what is tested: it may lose its way.
                self.worker = None
                return
            self.bench.run(0.1)

    def restart(self) -> None:
        self.bench.store.close()
        self.bench = make_bench(self.folder, seed=self.chance.randrange(1000))
        self.worker = None
        recover(self.bench.session)
        session = self.bench.session
        if session.rebuild is not None:
            assert session.rebuild.tare is None, "a tare is never taken for granted"

    def check(self) -> None:
        bench, session = self.bench, self.bench.session
        entries = bench.store.entries()
        hashes = [e.hash for e in entries]
        assert hashes[: len(self.known)] == self.known, "a fact was lost"
        self.known = hashes
        unit = session.rebuild
        if unit is not None:
            own = [e for e in entries if getattr(e.event, "unit_id", "") == unit.unit_id]
            assert fold(own, unit.specification) == unit, "what is shown is not what is on disk"
        told = {e.event.episode for e in entries if isinstance(e.event, AlarmChanged)}
        now = {a.episode for a in session.watch.snapshot().alarms}
        assert now <= told, "an alarm is not on record"


def assert_evidence(entries, filed, specifications) -> None:
    """Hold a filed unit's own events against what its route asks for."""
    unit = [e.event for e in entries if getattr(e.event, "unit_id", "") == filed.event.unit_id]
    assert sum(isinstance(e, UnitFiled) for e in unit) == 1
    signed: dict[str, int] = {}
    deviated: set[str] = set()
    tared = ""
    for n, event in enumerate(unit):
        match event:
            case StepReopened():
                route = [s["id"] for s in filed.event.record["steps"]]
                for step in route[route.index(event.step_id) :]:
                    signed.pop(step, None)
                    deviated.discard(step)
                tared = ""
            case StepSigned():
                signed[event.step_id] = n
                tared = ""
            case DeviationSigned():
                deviated.add(event.step_id)
            case TareProven():
                tared = event.step_id
            case TareLost():
                tared = ""
            case MassCaptured() if event.by_hand:
                assert event.by_hand.confirmed_by
            case MassCaptured():
                assert tared == event.step_id, "captured without a proven tare"
    record = filed.event.record
    assert set(signed) == {s["id"] for s in record["steps"]}
    opened = next(e for e in unit if isinstance(e, RebuildOpened))
    route = specifications[opened.specification_id, opened.revision].steps
    assert set(signed) == {step.id for step in route if step.kind is not StepKind.FILE}
    for kind, part in ((OilJudged, "oil"), (ChargeCaptured, "charge"), (HoldTested, "hold")):
        last = [e for e in unit if isinstance(e, kind)][-1]
        assert record[part]["decision"] == last.decision
        assert last.decision == "pass" or deviated
    if deviated:
        assert filed.event.decision == "deviation"
        assert filed.event.qa_hold


def run(folder, seed: int, count: int) -> int:
    hand = Hand(folder, seed)
    for n in range(count):
        hand.anything()
        if n % 10 == 0:
            hand.check()
    hand.bench.run(1.0)
    hand.check()
    entries = hand.bench.store.entries()
    filed = [e for e in entries if isinstance(e.event, UnitFiled)]
    for entry in filed:
        assert_evidence(entries, entry, hand.bench.session.shop.specifications)
    last = {}
    for entry in entries:
        if isinstance(entry.event, AlarmChanged):
            last[entry.event.episode] = entry.event.state
    still = {a.episode: a.state.value for a in hand.bench.session.watch.snapshot().alarms}
    for episode, state in still.items():
        assert last[episode] == state
    assert AlarmState.ACTIVE_UNACKNOWLEDGED.value in {
        e.event.state for e in entries if isinstance(e.event, AlarmChanged)
    }
    verified = hand.bench.store.verify()
    assert verified.ok, verified.problem
    opened = sum(isinstance(e.event, RebuildOpened) for e in entries)
    hand.bench.store.close()
    print(f"seed {seed}: {opened} opened, {len(filed)} filed, {len(entries)} entries")
    return len(filed)


@pytest.mark.parametrize("seed", [1, 2])
def test_a_short_while_of_anything(tmp_path, seed):
    run(tmp_path, seed, SHORT)


@pytest.mark.soak
@pytest.mark.timeout(3000)
def test_ten_thousand_actions_of_anything(tmp_path):
    assert run(tmp_path, 7, LONG) > 0
