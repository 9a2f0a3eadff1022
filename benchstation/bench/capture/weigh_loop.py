"""What happens by itself at a weighing: the tare is sent and proven, a steady mass is captured."""

import math
from dataclasses import replace

from benchstation.bench.capture.judgement import scale_quality
from benchstation.bench.capture.next_step import after_oil
from benchstation.bench.capture.oil import judged, pour_status, weighing_for
from benchstation.bench.capture.tracing import raw_slice, trace_of
from benchstation.bench.capture.weighing import SteadyMass, Weighing
from benchstation.bench.locks import capture_locked
from benchstation.bench.messages import Severity, attention_if
from benchstation.bench.scale_response import learn
from benchstation.bench.session import BenchSession
from benchstation.domain import unit_commands as commands
from benchstation.domain.calibrations import calibration_of
from benchstation.domain.events import MassCaptured, OilJudged, OilUnweighed, TareProven
from benchstation.domain.oil_balance import Purpose, counting, next_portion
from benchstation.domain.pour_delay import shown_lag
from benchstation.domain.rebuild import Rebuild
from benchstation.domain.scale_alive import Alive
from benchstation.domain.specification import Method, Step, StepKind
from benchstation.domain.statements import Code, Statement
from benchstation.domain.tared_loads import OnScale, contradiction_kg, on_scale
from benchstation.domain.tray_difference import LEAST_TRAY_KG
from benchstation.domain.unit_commands import PASS, require_step
from benchstation.domain.unweighed import prove_tare
from benchstation.driver_api.errors import StationError
from benchstation.store.queries import standing_load_kg
from benchstation.store.traces import Trace

LEAST_AGAINST_KG = 0.001
"""Less than this clings to any vessel that oil was poured out of."""
UNDO = "Put it right, then tare again and confirm that."
TAKE_OUT = "If oil was poured meanwhile, take it out of the unit. Then tare again."


def weigh(session: BenchSession, weighing: Weighing, rebuild: Rebuild, now: float) -> None:
    """Move a weighing on."""
    step = require_step(rebuild, StepKind.WEIGH, StepKind.BLEED)
    weighing.filter_s = session.scale.filter_s
    _tare(session, weighing, rebuild, step, now)
    mass = weighing.captured(now)
    if mass is None:
        return
    refused = weighing.refusal(mass.mean_kg, session.words) or _locked(session, weighing)
    if refused:
        weighing.cancel_capture()
        session.say(f"Not captured: {refused}", Severity.ATTENTION)
        return
    lag_s = _shown_lag(session, weighing, rebuild, step)
    captured, trace = _captured(session, weighing, rebuild, step, mass)
    lot = weighing.next_lot
    # Asked for once: what cannot be written is asked for again by hand.
    weighing.cancel_capture()
    if weighing.wants_before:
        session.journal(commands.capture_before(session.unit(), captured), [trace])
        weighing.begin_after(captured.shown_kg, captured.portion, weighing.scatter(mass.count))
        session.say(
            f"Before the pour: {session.words.mass(mass.mean_kg)}. The scale is free; now pour."
        )
    elif lot:
        session.journal(commands.capture_part(session.unit(), captured, lot), [trace])
        go_on_from(session, captured.shown_kg, lot)
    else:
        _judge(session, weighing, captured, trace)
    if lag_s is not None:
        learn(session, session.scale, lag_s)


def _shown_lag(
    session: BenchSession, weighing: Weighing, rebuild: Rebuild, step: Step
) -> float | None:
    """Return what the first pour since a tare shows of the scale's lag; ``None``: nothing."""
    plan = weighing.plan
    if not plan.purpose.adds or plan.method is Method.DIFFERENCE or plan.portion is not None:
        return None
    if weighing.alive is Alive.TOUCH:
        # A hand that presses is no flow.
        return None
    status = pour_status(rebuild, step, weighing, session.shop.lots, session.scale, session.air())
    return shown_lag(*weighing.pour(), status.goal_kg, session.scale.response_s)


def _locked(session: BenchSession, weighing: Weighing) -> str:
    """Return what came up since the capture was asked for, with what to do; empty: nothing."""
    locked = capture_locked(session)
    if locked:
        return f"{locked}. Put that right, or have a lead accept it as a deviation."
    closed = session.shop.closed_lots.get(weighing.next_lot)
    if closed is not None:
        return f"lot {closed.lot} is {closed.why}. Choose another lot for the rest."
    return ""


def _tare(
    session: BenchSession, weighing: Weighing, rebuild: Rebuild, step: Step, now: float
) -> None:
    if weighing.tare_due(now):
        against_kg = _against(session, weighing, rebuild)
        if against_kg is not None and not rebuild.deviated(step.id):
            weighing.cancel_capture()
            if weighing.emptied is None:
                _doubt_load(session, weighing, rebuild, step, against_kg)
                return
            more = "more" if against_kg > 0 else "less"
            session.say(
                f"Not tared: the scale shows {session.words.mass(abs(against_kg))} {more} than "
                "what you confirmed. Undo it, or have a lead accept it as a deviation.",
                Severity.ATTENTION,
            )
            return
        weighing.contradicted_kg = against_kg
        session.scale.instrument.tare()
    tared = weighing.tare_result(now, session.words)
    if weighing.doubt_due:
        code = Code.LOAD_CHANGED_UNTARED if tared is None else Code.LOAD_CHANGED_TARING
        purpose = weighing.plan.purpose.value
        doubt = OilUnweighed(rebuild.unit_id, step.id, purpose, Statement(code))
        seen_kg, scale_id = weighing.seen_empty_kg, session.scale.registered.instrument_id
        if weighing.plan.purpose is Purpose.BLEED and seen_kg is not None:
            load_kg = seen_kg + standing_load_kg(session.store, scale_id)
            if load_kg >= LEAST_TRAY_KG:
                doubt = replace(doubt, seen_empty_kg=load_kg, scale_id=scale_id)
        session.journal([doubt])
        weighing.doubt_told()
        if tared is None:
            session.say(f"No tare is proven, and the load changed. {TAKE_OUT}", Severity.ATTENTION)
    if isinstance(tared, str):
        # What was poured before the tare is in no mass: another tare would hide it for good.
        session.say(f"Tare not proven: {tared}. {TAKE_OUT}", Severity.ATTENTION)
    elif tared is not None:
        proven = TareProven(
            rebuild.unit_id,
            step.id,
            session.scale.registered.instrument_id,
            tared.mean_kg,
            tared.std_kg,
            tared.count,
            tared.raw,
            weighing.plan.purpose.value,
            weighing.emptied,
            weighing.plan.method.value,
            weighing.at_command_kg
            + standing_load_kg(session.store, session.scale.registered.instrument_id),
            weighing.contradicted_kg,
        )
        try:
            session.journal(prove_tare(rebuild, proven))
        except StationError:
            weighing.lose_tare()
            raise
        learn(session, session.scale)
        differs = weighing.plan.method is Method.DIFFERENCE
        session.say("Zero proven." if differs else "Tare proven.")


def _against(session: BenchSession, weighing: Weighing, rebuild: Rebuild) -> float | None:
    """Return what the scale shows against a person's word that oil was undone, kg.

    Where no word was given, it is what the scale shows against what was captured.
    """
    plan, scale = weighing.plan, session.scale.registered.instrument_id
    least_kg = max(LEAST_AGAINST_KG, 3 * rebuild.specification.steadiness.tare_band)
    on, shown_kg = on_scale(plan.purpose, plan.method), weighing.at_command_kg
    standing_kg = standing_load_kg(session.store, scale)
    found = contradiction_kg(rebuild.loads, scale, on, shown_kg, standing_kg, least_kg)
    if weighing.emptied is not None or found is None:
        return found
    # What a tray lost was tipped out of it, and is captured; the other vessels may be exchanged.
    emptied = on is OnScale.TRAY and found < 0.0
    return found if plan.purpose in (Purpose.POUR, Purpose.BLEED) and not emptied else None


def _doubt_load(
    session: BenchSession, weighing: Weighing, rebuild: Rebuild, step: Step, found_kg: float
) -> None:
    """Put on record that what stands on the scale is not what was captured."""
    plan = weighing.plan
    moved_kg = -found_kg if plan.method is Method.LOSS and plan.purpose.adds else found_kg
    reason = Statement(Code.LOAD_CHANGED_UNTARED)
    session.journal([OilUnweighed(rebuild.unit_id, step.id, plan.purpose.value, reason, moved_kg)])
    more = "more" if found_kg > 0 else "less"
    session.say(
        f"Not tared: the scale shows {session.words.mass(abs(found_kg))} {more} than what was "
        f"captured. {UNDO}",
        Severity.ATTENTION,
    )


def _captured(
    session: BenchSession, weighing: Weighing, rebuild: Rebuild, step: Step, mass: SteadyMass
) -> tuple[MassCaptured, Trace]:
    plan = weighing.plan
    trace = trace_of(session.clock, *weighing.pour(), name="mass_kg", unit="kg")
    portion = plan.portion
    if portion is None:
        portion = next_portion(c.event for c in rebuild.captures)
    differs = plan.before_kg is not None
    repeated = scale_quality(session.scale).repeated(
        weighing.scatter(mass.count), 4 if differs else 2
    )
    captured = MassCaptured(
        rebuild.unit_id,
        step.id,
        Purpose.BEFORE.value if weighing.wants_before else plan.purpose.value,
        session.scale.registered.instrument_id,
        weighing.poured_kg(mass.mean_kg),
        mass.std_kg,
        mass.count,
        mass.resolution_kg,
        trace.sha256,
        mass.raw,
        plan.method.value,
        plan.lot,
        portion,
        plan.again,
        plan.before_kg,
        raw_slice=raw_slice(
            session.scale.instrument.raw_log,
            session.clock.seconds(),
            rebuild.specification.steadiness.window,
        ),
        calibration=calibration_of(session.scale.registered),
        u_calibration_kg=session.scale.registered.u_calibration,
        zero_kg=weighing.zero_kg,
        u_repeated_kg=repeated.u,
        dof_repeated=repeated.dof if math.isfinite(repeated.dof) else None,
        alive=weighing.alive,
    )
    return captured, trace


def judge_with(session: BenchSession, captured: MassCaptured) -> OilJudged:
    """Judge the oil in the unit with one more capture."""
    rebuild = session.unit()
    step = require_step(rebuild, StepKind.WEIGH, StepKind.BLEED)
    parts = counting([*(c.event for c in rebuild.captures), captured])
    return judged(rebuild, step, parts, session.shop.lots, session.scale, session.air())


def _judge(session: BenchSession, weighing: Weighing, captured: MassCaptured, trace: Trace) -> None:
    result = judge_with(session, captured)
    weighing.resume(captured.portion, captured.shown_kg)
    rebuild = session.unit()
    assert rebuild.tare is not None
    session.journal(commands.capture_mass(rebuild, rebuild.tare, captured, result), [trace])
    session.say(
        f"Captured {session.words.mass(captured.shown_kg)}: " + _after(session, captured, result),
        attention_if(result.decision != PASS),
    )
    session.enter_step()


def _after(session: BenchSession, captured: MassCaptured, result: OilJudged) -> str:
    """Return what the result asks for; a spill or top-up that passes does not end the bleed."""
    purpose, step = Purpose(captured.purpose), session.unit().current
    if result.decision == PASS and step is not None and step.id == captured.step_id:
        return f"{PASS}. Now bleed and capture that, or confirm that nothing was bled."
    bled = captured.shown_kg > LEAST_AGAINST_KG
    return after_oil(result, purpose, Method(captured.method), bled=bled)


def go_on_from(session: BenchSession, part_kg: float, lot: str) -> None:
    """Begin the rest of a pour from another lot."""
    rebuild = session.unit()
    step = require_step(rebuild, StepKind.WEIGH, StepKind.BLEED)
    session.work.close_form()
    session.work.weigh(weighing_for(rebuild, step, session.scale))
    session.say(f"{session.words.mass(part_kg)} are captured. Tare, then pour the rest from {lot}.")
