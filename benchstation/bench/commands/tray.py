"""Weighing by difference what ran into the tray before its tare was proven."""

from dataclasses import dataclass

import numpy as np

from benchstation.bench.capture.tracing import raw_slice, trace_of
from benchstation.bench.capture.weigh_loop import judge_with
from benchstation.bench.capture.weighing import Phase, Weighing
from benchstation.bench.locks import capture_locked
from benchstation.bench.messages import Message, attention_if
from benchstation.bench.session import WORKERS, BenchSession, Command
from benchstation.bench.targets import present_pour
from benchstation.domain import unit_commands as commands
from benchstation.domain.calibrations import calibration_of
from benchstation.domain.events import MassCaptured
from benchstation.domain.oil_balance import Purpose, next_portion
from benchstation.domain.specification import Method, StepKind
from benchstation.domain.tray_difference import EmptyTray, empty_tray, oil_in_tray_kg
from benchstation.domain.unit_commands import NotAllowedError, require_step
from benchstation.store.queries import standing_load_kg

MORE_KG = 0.03
"""So much over twice what must come out is more than anybody bleeds."""


def tray_at(session: BenchSession, weighing: Weighing) -> EmptyTray | None:
    """Return the remembered tray where what is in it can be weighed by difference now."""
    rebuild = session.rebuild
    if rebuild is None or weighing.plan.purpose is not Purpose.BLEED:
        return None
    if weighing.phase is not Phase.NEED_TARE or not rebuild.unweighed:
        return None
    scale_id = session.scale.registered.instrument_id
    return empty_tray(rebuild, scale_id, standing_load_kg(session.store, scale_id))


@dataclass(frozen=True, slots=True)
class WeighTray(Command):
    """Take what the tray holds more than empty as bled oil: the oil came before the tare."""

    roles = WORKERS

    def __call__(self, session: BenchSession) -> Message:
        rebuild, weighing = session.unit(), session.work.weighing
        step = require_step(rebuild, StepKind.BLEED)
        tray = tray_at(session, weighing) if weighing is not None else None
        if weighing is None or tray is None:
            raise NotAllowedError(
                "the tray's empty weight is not known, or nothing in it is in doubt.",
                where=step.title,
                advice="Put what came out back into the unit, confirm it, and tare.",
            )
        locked = capture_locked(session)
        if locked:
            raise NotAllowedError(f"capture is locked: {locked}.", where=step.title)
        now, band = session.clock.seconds(), rebuild.specification.steadiness.tare_band
        steady = weighing.steady(now)
        if steady is None:
            raise NotAllowedError(
                "the scale is not steady.", where=step.title, advice="Hands off, and wait."
            )
        most_kg = MORE_KG + 2.0 * max(0.0, present_pour(session).goal_kg)
        oil_kg = oil_in_tray_kg(tray, steady.mean_kg, least_kg=3 * band, most_kg=most_kg)
        if oil_kg is None:
            raise NotAllowedError(
                f"the scale shows {session.words.mass(steady.mean_kg)}: what is in the tray "
                "cannot be told from its empty weight.",
                where=step.title,
                advice="Put the tray alone on the scale with all that came out. "
                "Or put the oil back, confirm it, and tare.",
            )
        scale = session.scale
        trace = trace_of(
            session.clock, np.asarray([now]), np.asarray([oil_kg]), name="mass_kg", unit="kg"
        )
        captured = MassCaptured(
            rebuild.unit_id,
            step.id,
            Purpose.BLEED.value,
            scale.registered.instrument_id,
            oil_kg,
            steady.std_kg,
            steady.count,
            steady.resolution_kg,
            trace.sha256,
            steady.raw,
            Method.DIFFERENCE.value,
            "",
            next_portion(c.event for c in rebuild.captures),
            before_kg=tray.load_kg,
            raw_slice=raw_slice(
                scale.instrument.raw_log, now, rebuild.specification.steadiness.window
            ),
            calibration=calibration_of(scale.registered),
            u_calibration_kg=scale.registered.u_calibration,
        )
        result = judge_with(session, captured)
        session.journal(commands.mass_of_tray(rebuild, captured, result), [trace])
        weighing.settle_untared()
        said = f"{session.words.mass(oil_kg)} in the tray, by difference: {result.decision}."
        return Message(said, attention_if(result.decision != commands.PASS))
