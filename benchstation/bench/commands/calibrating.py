"""A fitted instrument's new calibration, signed by a bench lead; it is in force at once."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from benchstation.bench.bench_instrument import BenchInstrument
from benchstation.bench.certificate_form import certificate_from
from benchstation.bench.commands.parsing import named
from benchstation.bench.in_doubt import held_in_words, hold_as_found
from benchstation.bench.judging import tried
from benchstation.bench.messages import Message, attention_if
from benchstation.bench.session import LEADS, BenchSession, SignedCommand
from benchstation.domain.calibrating import Certificate, registered_with
from benchstation.domain.calibrations import calibration_of
from benchstation.domain.events import CalibrationChanged, Event, InstrumentRegistered
from benchstation.domain.inputs.given import YES
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.driver_api.errors import StationError
from benchstation.metrology.calibration import LinearCalibration
from benchstation.quantities.units import UnitSystem

TAKE_EXPIRED = "take_expired"
"""The field that says of an expired certificate that it is put on record all the same."""


@dataclass(frozen=True, slots=True)
class Calibrate(SignedCommand):
    """Put another certificate of a fitted instrument on record, and correct by it from now on."""

    roles = LEADS
    form: Mapping[str, str]
    units: UnitSystem
    reason: str
    instrument_id: str = named("instrument")

    def __call__(self, session: BenchSession) -> Message:
        fitted = session.instruments.named(self.instrument_id)
        title, certificate = fitted.registered.title, self._certificate(session)
        expired = certificate.expired(session.today)
        if not self.reason.strip():
            raise NotAllowedError(
                "a reason is needed.",
                where=title,
                advice="Say why, in a few words.",
                field="reason",
            )
        require_free(session, fitted)
        registered = registered_with(fitted.registered, certificate, self.reason.strip())
        held = held_in_words(hold_as_found(session, registered))
        session.journal([registered, *noted(session, fitted, registered)])
        take_calibration(session, fitted, registered)
        said = f"{title}: {certificate.number} is in force to {certificate.until}.{held}"
        check = " Check it now, before it is used." if not expired else " Capture is locked."
        return Message(said + check, attention_if(expired or held))

    def wrong(self, session: BenchSession) -> Iterable[StationError]:
        return tried(lambda: self._certificate(session))

    def _certificate(self, session: BenchSession) -> Certificate:
        fitted, today = session.instruments.named(self.instrument_id), session.today
        certificate = certificate_from(
            self.form, fitted.role, self.units, today, step=fitted.resolution(0.0)
        )
        if certificate.expired(today) and self.form.get(TAKE_EXPIRED) != YES:
            raise NotAllowedError(
                f"this certificate expired on {certificate.until}: nothing could be captured.",
                where=fitted.registered.title,
                advice="Type the newest one, or tick that the expired one is put on record.",
                field=TAKE_EXPIRED,
            )
        return certificate


def require_free(session: BenchSession, fitted: BenchInstrument) -> None:
    """Raise while something that was begun with the instrument would span two calibrations."""
    weighing, work = session.work.weighing, session.work
    begun = weighing is not None and (weighing.tared or weighing.plan.before_kg is not None)
    if fitted is session.scale and begun:
        what = "a weighing that was begun stands on it."
    elif fitted is session.gauge and (work.charge_wanted or work.hold_wanted):
        what = "a charge or its hold test is under way."
    else:
        return
    raise NotAllowedError(
        what, where=fitted.registered.title, advice="Capture or cancel it first; then calibrate."
    )


def noted(
    session: BenchSession, fitted: BenchInstrument, registered: InstrumentRegistered
) -> list[Event]:
    """Return what the unit under way notes of it."""
    rebuild = session.rebuild
    if rebuild is None or rebuild.ended:
        return []
    step = rebuild.current.id if rebuild.current else ""
    before, after = calibration_of(fitted.registered), calibration_of(registered)
    return [CalibrationChanged(rebuild.unit_id, step, fitted.id, before, after)]


def take_calibration(
    session: BenchSession, fitted: BenchInstrument, registered: InstrumentRegistered
) -> None:
    """Correct by it from the next reading on; what followed the readings begins anew."""
    fitted.registered = registered
    fitted.instrument.recalibrate(LinearCalibration(registered.gain, registered.offset))
    if session.study is not None and session.study.fitted is fitted:
        session.end_study()
    if session.work.steadying is not None and session.work.steadying.fitted is fitted:
        session.work.steadying.reset()
    if session.work.unit_weighing is not None and session.scale is fitted:
        session.work.end_unit_weighing()
