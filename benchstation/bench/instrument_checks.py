"""Today's check of an instrument: a check weight on the scale, the zero of an open gauge line."""

from benchstation.bench.bench_instrument import BenchInstrument
from benchstation.domain.events import InstrumentChecked
from benchstation.domain.instrument_roles import NEEDED, InstrumentRole
from benchstation.domain.unit_commands import NotAllowedError

MASS_STEPS, LEAST_ZERO_PA = 5, 2000.0
CALIBRATION_SHARE = 3.0


def check(fitted: BenchInstrument, now: float, nominal_kg: float | None) -> InstrumentChecked:
    """Compare the present reading with what it must show, and say whether that is near enough.

    Near enough is three standard uncertainties of the calibration, but at least five steps of the
    scale or 20 mbar of the gauge. Raises when there is no reading to be trusted.
    """
    title = fitted.registered.title
    value = fitted.good_value(now)
    sample = fitted.instrument.latest()
    if value is None or sample is None:
        raise NotAllowedError(
            "there is no valid reading.", where=title, advice="See its line and health first."
        )
    if sample.stable is False:
        raise NotAllowedError(
            "it is not steady.", where=title, advice="Hands off, wait, then check again."
        )
    u = CALIBRATION_SHARE * fitted.registered.u_calibration
    if fitted.role not in NEEDED:
        raise NotAllowedError(f"a {fitted.role} is not checked here.", where=title)
    if fitted.role is InstrumentRole.SCALE:
        name = "check weight"
        if nominal_kg is None:
            raise NotAllowedError(
                "the mass of the check weight is missing.",
                where=title,
                advice="Type what its certificate says.",
                field="nominal",
            )
        nominal = nominal_kg
        tolerance = max(MASS_STEPS * fitted.resolution(1e-4), u)
    else:
        name, nominal, tolerance = "zero check", 0.0, max(LEAST_ZERO_PA, u)
    passed = abs(value - nominal) <= tolerance
    return InstrumentChecked(
        fitted.registered.instrument_id, name, nominal, value, tolerance, passed
    )
