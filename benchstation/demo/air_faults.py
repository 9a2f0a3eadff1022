"""Faults of temperature, settling and leaks: what is played of them, as in ``faults``."""

from collections.abc import Iterator
from dataclasses import replace

from benchstation.demo.play import Play
from benchstation.demo.technician import PASS
from benchstation.domain.events import ChargeCaptured
from benchstation.domain.unit_temperature import UNIT_TEMPERATURE

HOURS_S = 3600.0
LOOKS_BACK_S = 2.0
"""What was acknowledged last is on record before anybody leaves the bench."""


def _fill_and_capture(play: Play) -> Iterator[str]:
    """Fill by what is shown, and ask for the capture."""
    hand, step = play.technician, play.step
    goal = hand.charge_goal_pa()
    play.model.open_gas_screw()
    play.model.regulator_gauge_pa = 1.8 * goal
    yield from hand.fill(step, goal)
    yield from hand.settle(step)


def _holds_unit_temperature(play: Play, charge: ChargeCaptured | None) -> bool:
    """Return True when a charge names the unit's true temperature within its U."""
    known = [c for c in charge.conditions if c.quantity == UNIT_TEMPERATURE] if charge else []
    return bool(known) and abs(known[0].value - play.model.body_k) <= 2 * known[0].u


def charges_a_hot_unit(play: Play) -> Iterator[str]:
    """Charge a unit that is warmer than the room, then measure it at its body and charge again."""
    model = play.model
    play.technician.read_air()
    model.warm_unit(model.air_k + play.sizes.hot_k)
    yield from _fill_and_capture(play)
    charge = play.rebuild.charge
    play.seen["not judged"] = charge is not None and charge.decision != PASS
    body = f"{model.body_k - 273.15:.1f} °C"
    play.session.act("note_air", {"unit": body, "unit_on": "probe on the body", "unit_u": "1 K"})
    yield from play.usual()
    play.seen["measured"] = _holds_unit_temperature(play, play.rebuild.charge)


def charges_by_an_old_thermometer(play: Play) -> Iterator[str]:
    """Come back after hours in which the room changed; refused, read the air anew."""
    model = play.model
    yield from play.pause(LOOKS_BACK_S)
    model.room_drift_k_s = play.sizes.room_k_s
    play.restart(play.sizes.away_s)
    model.room_drift_k_s = 0.0
    yield from play.pause(3.0)
    play.tried("refused", lambda: play.session.act("capture", {}))
    play.technician.read_air()
    yield from play.usual()


def charges_with_a_slow_part(play: Play) -> Iterator[str]:
    """Charge a unit whose gas cools at two rates."""
    play.model.setup = replace(
        play.model.setup, slow_share=play.sizes.slow_share, slow_s=play.sizes.slow_s
    )
    yield from play.usual()


def charges_with_a_leak(play: Play) -> Iterator[str]:
    """Charge a unit that leaks; the lead accepts what the hold test shows."""
    play.model.setup = replace(play.model.setup, leak_m3_s=play.sizes.leak_pa_m3_s)
    yield from play.usual()


def begins_to_leak(play: Play) -> Iterator[str]:
    """Let the unit leak from its seal-off on, too little for any hold test."""
    hold = play.rebuild.hold
    play.seen["held tight"] = hold is not None and hold.decision == PASS
    play.model.setup = replace(play.model.setup, leak_m3_s=play.sizes.slow_leak_pa_m3_s)
    yield from play.usual()


def reads_again_a_day_later(play: Play) -> Iterator[str]:
    """Weigh the unit, let it wait, weigh it again; what it lost is accepted by the lead."""
    hand, step, unit = play.technician, play.step, play.rebuild.unit_id
    yield from hand.second_reading(step)
    # A room that was cooling is heated again by then.
    play.model.room_drift_k_s = 0.0
    play.restart(25 * HOURS_S)
    yield from hand.pause(1.0, step.title)
    play.session.act("fetch", {"unit": unit})
    hand.read_air()
    yield from hand.weigh_unit(step)
    yield from play.pause(2.0)
    second = play.rebuild.second
    play.seen["lost"] = second is not None and second.decision != PASS
    if hand.still_at(step):
        yield from hand.deviate(step, "scrapped; kept for the seal's maker")


def charges_in_a_drifting_room(play: Play) -> Iterator[str]:
    """Charge after three hours in which the room cooled steadily; the air is read anew."""
    yield from play.pause(LOOKS_BACK_S)
    play.model.room_drift_k_s = play.sizes.room_k_s
    play.restart(3 * HOURS_S)
    yield from play.pause(3.0)
    yield from play.usual()
    play.seen["within"] = _holds_unit_temperature(play, play.rebuild.charge)
