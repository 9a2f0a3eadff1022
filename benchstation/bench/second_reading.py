"""The second reading at the bench: a pressure that rests goes on record, then all is judged."""

from benchstation.bench.commands.second_words import after_second
from benchstation.bench.messages import attention_if
from benchstation.bench.session import BenchSession
from benchstation.domain import second_reading
from benchstation.domain.calibrations import calibration_of
from benchstation.domain.events import PressureReadAgain
from benchstation.domain.specification import StepKind
from benchstation.domain.unit_commands import PASS

USUAL_STEP_PA = 1000.0


def move_on(session: BenchSession) -> None:
    """Put the pressure on record once it rests, and judge once every reading is there."""
    rebuild = session.rebuild
    step = rebuild.current if rebuild is not None else None
    if rebuild is None or step is None or step.kind is not StepKind.SECOND:
        return
    if session.to_write or rebuild.unread is not None or session.person is None:
        return
    _read(session)
    rebuild = session.unit()
    if rebuild.second is not None:
        return
    events = second_reading.finish(rebuild)
    if not events:
        return
    session.journal(events)
    found = session.unit().second
    assert found is not None
    said = after_second(found, session.words)
    session.say(f"Second reading: {said}", attention_if(found.decision != PASS))
    session.enter_step()


def _read(session: BenchSession) -> None:
    again, rebuild = session.work.pressure_again, session.unit()
    found = again.read(session.clock.seconds()) if again is not None else None
    step, charge = rebuild.current, rebuild.charge
    if found is None or step is None or charge is None:
        return
    session.work.end_pressure_again()
    gauge, air, body = session.gauge, session.air(), session.unit_temperature(rebuild)
    dead = session.shop.fill_tool_m3
    shown = found.gauge_pa - found.zero_pa
    before = second_reading.before_joining_pa(
        charge, shown, air.pressure_pa, body.temperature_k, dead
    )
    if rebuild.read_again is not None:
        # The line was vented since: what the tool took then is gone.
        before += rebuild.read_again.before_joining_gauge_pa - rebuild.read_again.gauge_pa
    session.journal(
        [
            PressureReadAgain(
                rebuild.unit_id,
                step.id,
                gauge.registered.instrument_id,
                calibration_of(gauge.registered),
                gauge.registered.u_calibration,
                gauge.resolution(USUAL_STEP_PA),
                found.zero_pa,
                shown,
                found.std_pa,
                found.count,
                found.raw,
                dead,
                before,
                air.pressure_pa,
                air.u_pressure_pa,
                body.temperature_k,
                body.u_k,
                body.source.value,
            )
        ]
    )
    words = session.words
    session.say(f"Read again: {words.gauge(shown, 2)}. Close the gas screw; then vent the line.")
