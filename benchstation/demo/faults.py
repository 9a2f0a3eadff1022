"""The faults that a rehearsal can play. One more fault is one more entry in :data:`FAULTS`.

A fault is what it does to the bench or to the technician's hand at a step, and what the station
must make of it. Scripts play it over real lines; nothing in the station knows of them.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from benchstation.demo.play import (
    Demand,
    Play,
    alarm,
    deviation_at,
    inside,
    judged_not_passed,
    noted,
    on_hold,
    on_record,
)
from benchstation.demo.truth import OIL_KG_M3_K
from benchstation.domain.events import TareLost
from benchstation.domain.guard import AlarmKind
from benchstation.domain.specification import StepKind
from benchstation.driver_api.errors import StationError
from benchstation.metrology.stability import Stability

Script = Callable[[Play], Iterator[str]]
TOO_MUCH_KG, TOO_LITTLE_KG = 0.006, 0.015


class UnknownFaultError(StationError):
    """No fault of that name can be played."""


@dataclass(frozen=True, slots=True)
class Fault:
    """A fault as data. ``scripts`` are played in place of the usual work, by the step's id."""

    name: str
    title: str
    scripts: Mapping[str, Script]
    demands: tuple[Demand, ...]
    family: str = "mr-46-front"


def fault_named(name: str) -> Fault:
    """Return a fault; raise in one line that lists them for any other name."""
    if name not in FAULTS:
        raise UnknownFaultError(
            f"'{name}' is no fault that can be played.", advice=f"One of: {', '.join(FAULTS)}."
        )
    return FAULTS[name]


# --- oil ---------------------------------------------------------------------------------------


def _pour_off_target(play: Play, off_kg: float) -> Iterator[str]:
    """Pour this much more than the target, and have the lead accept it."""
    hand, step = play.technician, play.step
    play.model.put_on_pan("body")
    yield from hand.tare(step)
    yield from hand.pour_to(step, play.session.standing().goal_kg + off_kg)
    yield from hand.capture(step)
    if hand.still_at(step):
        yield from hand.deviate(step, "poured so; goes on as it is")


def _pours_too_much(play: Play) -> Iterator[str]:
    yield from _pour_off_target(play, TOO_MUCH_KG)


def _pours_too_little(play: Play) -> Iterator[str]:
    yield from _pour_off_target(play, -TOO_LITTLE_KG)


def _bleeds_half(play: Play) -> Iterator[str]:
    """Let run off no more than if the right amount had been poured."""
    hand, step, model = play.technician, play.step, play.model
    model.put_on_pan("tray")
    yield from hand.tare(step)
    model.bleed(max(0.0, play.session.standing().goal_kg - TOO_MUCH_KG))
    yield from play.pause(4.0)
    yield from hand.capture(step)
    if hand.still_at(step):
        yield from hand.deviate(step, "bled to the mark; more is in it")
    model.put_on_pan("nothing")


def _bleeds_nothing(play: Play) -> Iterator[str]:
    hand, step, model = play.technician, play.step, play.model
    model.put_on_pan("tray")
    yield from play.pause(2.0)
    play.session.act("nothing_bled", {})
    if hand.still_at(step):
        yield from hand.deviate(step, "too little; no more of this oil is here")
    model.put_on_pan("nothing")


def _pulls_the_scales_plug(play: Play) -> Iterator[str]:
    hand, step, scale = play.technician, play.step, play.session.scale
    play.model.put_on_pan("body")
    yield from hand.tare(step)
    yield from hand.pour_to(step, 0.6 * play.session.standing().goal_kg)
    play.stage.served.scale.unplug()
    yield from play.until(lambda: scale.good_value(hand.now()) is None, 300.0)
    play.stage.served.scale.replug()
    yield from play.until(lambda: scale.good_value(hand.now()) is not None, 600.0)
    yield from play.usual()


def _pulls_the_gauges_plug(play: Play) -> Iterator[str]:
    hand, model, session = play.technician, play.model, play.session
    goal = hand.charge_goal_pa()
    model.open_gas_screw()
    model.regulator_gauge_pa = 1.4 * goal
    model.valve_opening = 0.5
    yield from play.until(lambda: hand.gauge_pa() > 0.4 * goal)
    play.stage.served.gauge.unplug()
    yield from play.until(lambda: bool(session.watch.snapshot().alarms), 300.0)
    model.valve_opening = 0.0
    play.stage.served.gauge.replug()
    yield from play.until(lambda: session.gauge.good_value(hand.now()) is not None, 600.0)
    hand.acknowledge("the plug was pulled; back in its place")
    yield from play.usual()


def _oil_of_another_can(play: Play) -> Iterator[str]:
    """Pour from a can of a heavier oil; nothing at the scale can tell."""
    lot, setup = play.session.shop.lots["L-0432"], play.model.setup
    play.model.rho_oil_kg_m3 = lot.rho15_kg_m3 - OIL_KG_M3_K * (setup.ambient_k - 288.15)
    yield from play.usual()


def _scale_freezes(play: Play) -> Iterator[str]:
    """Pour on while the scale repeats a steady frame at the target, and ask for the capture."""
    hand, step, session = play.technician, play.step, play.session
    play.model.put_on_pan("body")
    yield from hand.tare(step)
    yield from hand.pour_to(step, session.standing().goal_kg)
    play.world.scale.frozen = True
    yield from play.pause(1.0)
    play.model.pour_opening = 0.5
    yield from play.pause(1.5)
    play.model.pour_opening = 0.0
    captures = len(play.rebuild.captures)
    session.act("capture", {})
    weighing = session.weighing
    assert weighing is not None
    yield from play.pause(6.0)
    frozen = weighing.view(hand.now()).state is Stability.FROZEN
    play.seen["not captured"] = frozen and len(play.rebuild.captures) == captures
    play.world.scale.frozen = False
    if hand.still_at(step):
        session.act("cancel", {})
        yield from play.usual()


# --- gas ---------------------------------------------------------------------------------------


def _passes_the_limit(play: Play) -> Iterator[str]:
    """Leave the bottle valve open beyond the weakest part's rating."""
    hand = play.technician
    play.model.open_gas_screw()
    limit = play.session.watch.limits.limit_gauge_pa
    yield from hand.overshoot(play.step, 1.06 * limit, [AlarmKind.HIGH_LIMIT])
    hand.acknowledge("regulator set too high; vented")
    yield from play.usual()


_ENTRIES = (
    Fault(
        "overfill",
        "too much oil is poured and not bled off",
        {"oil": _pours_too_much, "bleed": _bleeds_half},
        (judged_not_passed(StepKind.BLEED), deviation_at("bleed"), on_hold()),
    ),
    Fault(
        "over-pressure",
        "the bottle valve stays open beyond the rating of the hose",
        {"charge": _passes_the_limit},
        (alarm(AlarmKind.HIGH_LIMIT), on_hold()),
    ),
    Fault(
        "pulled-plug",
        "the scale's plug is pulled while oil is poured, the gauge's while gas goes in",
        {"oil": _pulls_the_scales_plug, "charge": _pulls_the_gauges_plug},
        (
            on_record(TareLost, "the tare is lost, on record"),
            alarm(AlarmKind.SIGNAL_LOST),
            inside(),
        ),
    ),
    Fault(
        "short-fill",
        "too little oil is poured",
        {"oil": _pours_too_little, "bleed": _bleeds_nothing},
        (judged_not_passed(StepKind.BLEED), deviation_at("bleed"), on_hold()),
    ),
    Fault(
        "wrong-lot",
        "the can holds another oil than the lot that was chosen",
        {"oil": _oil_of_another_can},
        (noted("refused", "the can's lot is asked for at the weigh-in, and refused"),),
    ),
    Fault(
        "frozen-scale",
        "the scale repeats its last frame while oil is poured",
        {"oil": _scale_freezes},
        (noted("not captured", "a frozen scale gives no mass"), inside()),
    ),
)
FAULTS: Mapping[str, Fault] = {fault.name: fault for fault in _ENTRIES}
