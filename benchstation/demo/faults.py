"""The faults that a rehearsal can play. One more fault is one more entry in :data:`FAULTS`.

A fault is what it does to the bench or to the technician's hand at a step, and what the station
must make of it. Scripts play it over real lines; nothing in the station knows of them.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from benchstation.bench.capture.weighing import Phase
from benchstation.bench.commands.capturing import EMPTIED
from benchstation.bench.gas_weighing import wanted
from benchstation.bench.targets import present_pour
from benchstation.demo import air_faults
from benchstation.demo.air_reading import HERE_FOR
from benchstation.demo.materials import WEIGHT
from benchstation.demo.play import (
    FRESH_S,
    Demand,
    Play,
    acknowledged,
    alarm,
    charge_holds_truth,
    deviation_at,
    gas_in_or_not_passed,
    gas_out_at,
    hold_not_passed,
    inside,
    judged_not_passed,
    not_passed,
    noted,
    on_hold,
    on_record,
)
from benchstation.demo.truth import OIL_KG_M3_K
from benchstation.domain.events import TareLost
from benchstation.domain.guard import AlarmKind
from benchstation.domain.specification import StepKind
from benchstation.domain.unweighed import emptied_field, statements
from benchstation.driver_api.errors import StationError
from benchstation.metrology.stability import Stability

Script = Callable[[Play], Iterator[str]]


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
    here_for: str = HERE_FOR
    """How long the technician says the unit is in the room; empty: nothing is said of it."""


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
    yield from hand.begin_pour(step)
    yield from hand.pour_to(step, present_pour(play.session).goal_kg + off_kg)
    yield from hand.capture(step)
    if hand.still_at(step):
        yield from hand.deviate(step, "poured so; left as it is")


def _pours_too_much(play: Play) -> Iterator[str]:
    yield from _pour_off_target(play, play.sizes.too_much_kg)


def _pours_too_little(play: Play) -> Iterator[str]:
    yield from _pour_off_target(play, -play.sizes.too_little_kg)


def _bleeds_half(play: Play) -> Iterator[str]:
    """Bleed no more than if the right amount had been poured."""
    hand, step, model = play.technician, play.step, play.model
    model.put_on_pan("tray")
    yield from hand.tare(step)
    model.bleed(max(0.0, present_pour(play.session).goal_kg - play.sizes.too_much_kg))
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
    yield from hand.begin_pour(step)
    yield from hand.pour_to(step, play.sizes.scale_pulled_at * present_pour(play.session).goal_kg)
    play.stage.served.scale.unplug()
    yield from play.until(lambda: scale.good_value(hand.now()) is None, 3000.0)
    play.stage.served.scale.replug()
    yield from play.until(lambda: scale.good_value(hand.now()) is not None, 6000.0)
    yield from play.usual()


def _pulls_the_gauges_plug(play: Play) -> Iterator[str]:
    hand, model, session = play.technician, play.model, play.session
    goal = hand.charge_goal_pa()
    model.open_gas_screw()
    model.regulator_gauge_pa = 1.4 * goal
    model.valve_opening = 0.5
    yield from play.until(lambda: hand.gauge_pa() > play.sizes.gauge_pulled_at * goal)
    play.stage.served.gauge.unplug()
    yield from play.until(
        lambda: any(a.kind is AlarmKind.SIGNAL_LOST for a in session.watch.snapshot().alarms),
        3000.0,
    )
    model.valve_opening = 0.0
    play.stage.served.gauge.replug()
    yield from play.until(lambda: session.gauge.good_value(hand.now()) is not None, 6000.0)
    hand.acknowledge("the plug was pulled; back in its place")
    yield from play.usual()


def _oil_of_another_can(play: Play) -> Iterator[str]:
    """Take a can of a heavier oil: nothing at the scale can tell, only what the can says."""
    lot, setup = play.session.shop.lots["L-0432"], play.model.setup
    right = play.model.rho_oil_kg_m3
    play.model.rho_oil_kg_m3 = lot.rho15_kg_m3 - OIL_KG_M3_K * (setup.ambient_k - 288.15)
    if not play.tried("refused", lambda: play.technician.scan_can(lot.lot)):
        play.model.rho_oil_kg_m3 = right
    yield from play.usual()


def _scale_freezes(play: Play) -> Iterator[str]:
    """Pour on while the scale repeats a steady frame at the target, and ask for the capture."""
    hand, step, session = play.technician, play.step, play.session
    yield from hand.begin_pour(step)
    yield from hand.pour_to(step, present_pour(session).goal_kg)
    play.world.scale.frozen = True
    yield from play.pause(1.0)
    play.model.pour_opening = 0.5
    yield from play.pause(1.5)
    play.model.pour_opening = 0.0
    captures = len(play.rebuild.captures)
    session.act("capture", {})
    weighing = session.work.weighing
    assert weighing is not None
    yield from play.pause(6.0)
    now = hand.now()
    frozen = weighing.view(now).state is Stability.FROZEN or weighing.unanswered(now)
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
    yield from hand.overshoot(play.step, play.sizes.limit_share * limit, [AlarmKind.HIGH_LIMIT])
    hand.acknowledge("regulator set too high; vented")
    yield from play.usual()


def _passes_the_limit_on_a_full_disk(play: Play) -> Iterator[str]:
    hand, model = play.technician, play.model
    limit = play.session.watch.limits.limit_gauge_pa
    model.open_gas_screw()
    model.regulator_gauge_pa = play.sizes.limit_share * limit
    model.valve_opening = 1.0
    yield from play.until(lambda: hand.gauge_pa() > 0.9 * limit)
    play.disk.full = play.watching = True
    yield from play.until(lambda: hand.gauge_pa() > limit)
    yield from play.pause(3.0 * FRESH_S)
    play.seen["shown"] = play.shows(AlarmKind.HIGH_LIMIT)
    model.valve_opening, model.vent_opening = 0.0, 0.01
    yield from play.until(lambda: hand.gauge_pa() < 0.9 * hand.charge_goal_pa())
    model.vent_opening = 0.0
    play.disk.full = play.watching = False
    yield from play.until(lambda: not play.session.to_write.problem)
    hand.acknowledge("regulator set too high; vented")
    yield from play.usual()


def _starts_anew_under_an_alarm(play: Play) -> Iterator[str]:
    """Pass the limit, vent, and start the station anew before anybody has acknowledged."""
    hand, limit = play.technician, play.session.watch.limits.limit_gauge_pa
    play.model.open_gas_screw()
    yield from hand.overshoot(play.step, play.sizes.limit_share * limit, [AlarmKind.HIGH_LIMIT])
    play.restart()
    yield from play.pause(2.0)
    kinds = [alarm.kind for alarm in play.session.watch.snapshot().alarms]
    play.seen["latched"] = AlarmKind.HIGH_LIMIT in kinds
    hand.acknowledge("regulator set too high; vented; the station was restarted")
    yield from play.usual()


def _jumps_over_the_range(play: Play) -> Iterator[str]:
    """Let the regulator fail: from one reading to the next the gauge shows no number any more."""
    hand, model = play.technician, play.model
    goal = hand.charge_goal_pa()
    model.open_gas_screw()
    model.regulator_gauge_pa, model.valve_opening = 1.4 * goal, 0.5
    yield from play.until(lambda: hand.gauge_pa() > 0.5 * goal)
    with model.lock:
        model.valve_opening = 0.0
        model.gas_kg *= 1.1 * play.world.gauge.range_pa / model.gas_gauge_pa
    yield from play.pause(3.0)
    kinds = [a.kind for a in play.session.watch.snapshot().alarms]
    play.seen["limit"] = AlarmKind.HIGH_LIMIT in kinds
    model.vent_opening = 0.02
    yield from play.until(lambda: model.gas_gauge_pa < 0.9 * goal)
    model.vent_opening = 0.0
    yield from play.pause(3.0)
    hand.acknowledge("the regulator failed; vented")
    yield from play.usual()


def _gauge_on_the_bench(play: Play) -> Iterator[str]:
    """Leave the gauge in the open air, where it shows zero, and tick that the rod stays in."""
    gauge, step = play.world.gauge, play.step
    gauge.connected = False
    yield from play.pause(3.0)
    signed = play.tried("refused", lambda: play.technician.sign_form(step))
    yield step.title
    gauge.connected = True
    if signed:
        play.model.put_on_pan("body")
        play.model.put_on_pan("nothing")
    else:
        play.tick_statements("")
        yield from play.pause(3.0)
        yield from play.usual()


def _ticks_under_pressure(play: Play) -> Iterator[str]:
    """Tick that the rod stays in before the gas is out, and sign later with that tick."""
    hand, model, step = play.technician, play.model, play.step
    play.tick_statements("yes")
    yield from play.pause(1.0)
    model.open_gas_screw()
    model.vent_opening = 0.5
    yield from play.until(lambda: abs(hand.gauge_pa()) < 5e3)
    yield from play.pause(3.0)
    if not play.tried("refused", lambda: hand.sign_form(step)):
        play.tick_statements("")
        hand.sign_form(step)
    model.put_on_pan("body")
    model.put_on_pan("nothing")
    model.vent_opening = 0.0
    yield step.title


def _zero_shifts(play: Play) -> Iterator[str]:
    """Drop the gauge while the unit is apart: from now on its zero is off.

    One that shows gas in an open unit lets nothing be signed, and is set right at once.
    """
    gauge, step = play.world.gauge, play.step
    gauge.offset_pa = play.sizes.zero_pa
    if play.rebuild.specification.gas.under_pressure(gauge.offset_pa):
        yield from play.pause(3.0)
        if not play.tried("refused", lambda: play.technician.sign_form(step)):
            gauge.offset_pa = 0.0
            yield from play.pause(3.0)
    if play.technician.still_at(step):
        yield from play.usual()


def _charges_off_zero(play: Play) -> Iterator[str]:
    """Fill by what the gauge shows; refused, set its zero in the open line and begin anew."""
    gauge, hand, step = play.world.gauge, play.technician, play.step
    if not gauge.offset_pa:
        yield from play.usual()
        return
    goal = hand.charge_goal_pa()
    play.model.open_gas_screw()
    play.model.regulator_gauge_pa = 1.8 * goal
    yield from hand.fill(step, goal)
    if play.tried("refused", lambda: play.session.act("capture", {})):
        yield from hand.settle(step)
        yield from hand.hold(step)
        return
    play.model.vent_opening = 0.5
    yield from play.until(lambda: play.model.gas_gauge_pa < 100.0)
    gauge.offset_pa = 0.0
    yield from play.pause(5.0)
    play.model.vent_opening = 0.0
    yield from play.usual()


def _gauge_freezes_near_the_target(play: Play) -> Iterator[str]:
    """Let gas in beside a gauge in steps of 0.1 bar that hangs near the target.

    A unit that holds gas already is emptied first: it must hang while it rises.
    """
    hand, model, gauge, step = play.technician, play.model, play.world.gauge, play.step
    goal = hand.charge_goal_pa()
    model.vent_opening = 0.1
    yield from play.until(lambda: hand.gauge_pa() < 0.1 * goal)
    model.vent_opening = 0.0
    if wanted(play.session, play.rebuild):
        yield from hand.weigh_unit(step)
    gauge.decimals = 1
    model.open_gas_screw()
    model.regulator_gauge_pa, model.valve_opening = 2.0 * goal, 0.03
    yield from play.until(lambda: hand.gauge_pa() > goal - play.sizes.hangs_below_pa)
    gauge.frozen = True
    model.valve_opening = 0.5
    yield from play.until(lambda: model.gas_gauge_pa > play.sizes.hung_share * goal)
    model.valve_opening = 0.0
    yield from hand.settle(step)
    yield from hand.hold(step)


def _gauge_thaws(play: Play) -> Iterator[str]:
    play.world.gauge.frozen = False
    yield from play.pause(2.0)
    yield from play.usual()


def _leaves_the_screw_open(play: Play) -> Iterator[str]:
    """Vent the line with the unit still open to it, and tick all the same."""
    hand, model, step = play.technician, play.model, play.step
    play.session.act("typed", {"confirm1": "yes"})
    model.vent_opening = 0.1
    yield from play.until(lambda: hand.gauge_pa() < 5e3)
    yield from play.pause(3.0)
    model.vent_opening = 0.0
    hand.sign_form(step)
    yield step.title


def _tare_saying_empty(play: Play) -> None:
    """Ask for a tare, and confirm whatever is asked for before it."""
    play.session.act("tare", {})
    if play.session.work.open_form == EMPTIED:
        asked = statements(play.rebuild.unweighed)
        word = {emptied_field(n): "yes" for n in range(1, len(asked) + 1)}
        play.session.act("tare", word)


def _says_falsely_that_it_is_empty(play: Play) -> Iterator[str]:
    """Lose a tare over oil in the unit, and confirm that it was taken out."""
    hand, step, scale, session = play.technician, play.step, play.session.scale, play.session
    yield from hand.begin_pour(step)
    yield from hand.pour_to(step, play.sizes.false_empty_kg)
    play.stage.served.scale.unplug()
    yield from play.until(lambda: scale.good_value(hand.now()) is None, 3000.0)
    play.stage.served.scale.replug()
    yield from play.until(lambda: scale.good_value(hand.now()) is not None, 6000.0)
    yield from play.pause(3.0)
    play.tried("refused", lambda: _tare_saying_empty(play))
    yield from play.until(lambda: hand.phase() is not Phase.TARING, 60.0)
    if hand.phase() is not Phase.POURING:
        play.seen["refused"] = True
        yield from play.usual()
        return
    yield from hand.pour_to(step, present_pour(session).goal_kg)
    yield from hand.capture(step)
    if hand.still_at(step):
        yield from hand.deviate(step, "poured so; left as it is")


def _check_fails_before_a_restart(play: Play) -> Iterator[str]:
    """Find the scale off with its weight, start the station anew, and go on with it."""
    play.world.scale.gain = play.sizes.scale_gain
    live = play.stage.live
    play.model.put_on_pan("nothing")
    yield from play.pause(4.0)
    live.session.act("prove_empty", {"instrument": live.session.scale.id})
    play.model.put_on_pan("check weight")
    yield from play.pause(4.0)
    live.session.act("check", {"instrument": live.session.scale.id, "weight": WEIGHT})
    checked = live.session.scale.checked
    play.seen["failed"] = checked is not None and not checked.passed
    play.model.put_on_pan("nothing")
    play.restart()
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
        (noted("refused", "the can is scanned at the weigh-in, and refused"), inside()),
    ),
    Fault(
        "frozen-scale",
        "the scale repeats its last frame while oil is poured",
        {"oil": _scale_freezes},
        (noted("not captured", "a frozen scale gives no mass"), inside()),
    ),
    Fault(
        "disk-full",
        "the limit is exceeded while nothing can be written",
        {"charge": _passes_the_limit_on_a_full_disk},
        (
            noted("shown", "the alarm is shown though it cannot be written"),
            alarm(AlarmKind.HIGH_LIMIT),
            on_hold(),
        ),
    ),
    Fault(
        "restart-under-alarm",
        "the station is restarted under an alarm that nobody has acknowledged",
        {"charge": _starts_anew_under_an_alarm},
        (
            noted("latched", "the alarm stands after the restart"),
            acknowledged(AlarmKind.HIGH_LIMIT),
            on_hold(),
        ),
    ),
    Fault(
        "over-range",
        "the pressure jumps beyond the gauge's range",
        {"charge": _jumps_over_the_range},
        (
            noted("limit", "over range is the limit exceeded, at once"),
            alarm(AlarmKind.HIGH_LIMIT),
            on_hold(),
        ),
    ),
    Fault(
        "gauge-not-connected",
        "the gauge lies beside the unit and shows zero at the release",
        {"release": _gauge_on_the_bench},
        (
            noted("refused", "one tick at a gauge that saw nothing does not sign the release"),
            gas_out_at("release"),
        ),
    ),
    Fault(
        "shifted-zero",
        "the gauge's zero shifts by -0.6 bar between release and charge",
        {"strip": _zero_shifts, "charge": _charges_off_zero},
        (noted("refused", "no charge counts on a gauge that showed no zero before it"), inside()),
    ),
    Fault(
        "frozen-gauge",
        "the gauge hangs near the target while gas still goes in",
        {"charge": _gauge_freezes_near_the_target, "seal": _gauge_thaws},
        (alarm(AlarmKind.FROZEN), not_passed()),
        family="sledge-36",
    ),
    Fault(
        "tick-too-early",
        "that the rod stays in is ticked before the gas is out",
        {"release": _ticks_under_pressure},
        (noted("refused", "a tick made under pressure signs nothing later"), gas_out_at("release")),
    ),
    Fault(
        "screw-open",
        "the gas screw is left open at the seal-off, and ticked as closed",
        {"seal": _leaves_the_screw_open},
        (gas_in_or_not_passed(),),
        family="sledge-36",
    ),
    Fault(
        "false-empty",
        "oil that no mass holds is confirmed as taken out, and is not",
        {"oil": _says_falsely_that_it_is_empty},
        (noted("refused", "a word that the scale contradicts gives no tare"), inside()),
    ),
    Fault(
        "failed-check",
        "the scale fails its check weight, and the station is restarted",
        {"intake": _check_fails_before_a_restart},
        (noted("failed", "the check weight fails"), not_passed()),
    ),
    Fault(
        "hot-unit",
        "the unit comes 12 K warm to its charge, and nothing is said of its temperature",
        {"charge": air_faults.charges_a_hot_unit},
        (
            noted("not judged", "a unit of unknown temperature passes no charge"),
            noted("measured", "measured at its body, its temperature is on record within its U"),
            charge_holds_truth(),
            inside(),
        ),
        here_for="",
    ),
    Fault(
        "old-thermometer",
        "the air was read two hours ago, and the room has cooled since",
        {"charge": air_faults.charges_by_an_old_thermometer},
        (noted("refused", "a figure of the air that is too old captures no charge"), inside()),
    ),
    Fault(
        "slow-second-part",
        "the tube's skin holds back a part of the gas's heat, so that it settles at two rates",
        {"charge": air_faults.charges_with_a_slow_part},
        (charge_holds_truth(), inside()),
    ),
    Fault(
        "slow-leak",
        "the unit leaks four times what is allowed from its charge on",
        {"charge": air_faults.charges_with_a_leak},
        (hold_not_passed(), on_hold()),
    ),
    Fault(
        "failed-second-reading",
        "a leak that no hold test can tell empties the unit while it waits",
        {"seal": air_faults.begins_to_leak, "second": air_faults.reads_again_a_day_later},
        (
            noted("held tight", "the hold test passes"),
            noted("lost", "the second reading fails"),
            on_hold(),
        ),
        family="stretcher-36",
    ),
    Fault(
        "drifting-room",
        "the room cools by 2 K an hour, and the unit is behind it",
        {"charge": air_faults.charges_in_a_drifting_room},
        (
            noted("within", "the unit's temperature on record holds the true one within its U"),
            charge_holds_truth(),
            inside(),
        ),
    ),
)
FAULTS: dict[str, Fault] = {fault.name: fault for fault in _ENTRIES}
