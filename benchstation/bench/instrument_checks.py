"""Today's check of an instrument: a check weight, the zero of an open line, a comparison."""

from datetime import date

from benchstation.bench.bench_instrument import BenchInstrument
from benchstation.domain.events import InstrumentChecked
from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.domain.materials import Material, Sort, Stock
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.metrology.check_weights import permissible_error, suits
from benchstation.quantities.formatter import METRIC, QuantityFormatter, day_of
from benchstation.store.journal import Entry

MASS_STEPS, LEAST_ZERO_PA = 5, 2000.0
NEAR_ENOUGH = {
    InstrumentRole.THERMOMETER: 1.0,
    InstrumentRole.BAROMETER: 300.0,
    InstrumentRole.HYGROMETER: 0.05,
}
"""How far, SI, two of the air's instruments may differ side by side: what plain ones promise."""
CALIBRATION_SHARE = 3.0
PROOF_HOLDS_S = 300.0
LARGEST_SHARE = 0.01
"""A scale may be off by no more than this share of the weight that it is checked with."""
LEAST_SHARE = 0.5
"""Less than this share of a check weight on the pan is not that weight."""


def stand_by(fitted: BenchInstrument, entry: Entry | None) -> None:
    """Let an instrument stand by a check on record; ``None``: it has none that counts."""
    event = entry.event if entry is not None else None
    fitted.checked = event if isinstance(event, InstrumentChecked) else None
    fitted.checked_on = day_of(entry.utc) if entry is not None else None


def _steady_value(fitted: BenchInstrument, now: float) -> float:
    """Return the present reading; raise when there is none to be trusted."""
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
    return value


def prove_empty(fitted: BenchInstrument, now: float, words: QuantityFormatter) -> None:
    """Take note that the empty scale shows zero, gross: what a check weight is compared from.

    Raises while it shows anything else, such as a tare that still stands.
    """
    title = fitted.registered.title
    value = _steady_value(fitted, now)
    sample = fitted.instrument.latest()
    band = MASS_STEPS * fitted.resolution(1e-4)
    if abs(value) > band or (sample is not None and sample.net):
        shows = "a net weight" if sample is not None and sample.net else words.mass(value)
        raise NotAllowedError(
            f"the empty pan shows {shows}.",
            where=title,
            advice="Take everything off, zero the scale, then prove it again.",
        )
    fitted.zero_proof = (now, value)


def check(
    fitted: BenchInstrument,
    now: float,
    nominal: float | None,
    zero: float | None = None,
    words: QuantityFormatter = METRIC,
) -> InstrumentChecked:
    """Compare the present reading with what it must show, and say whether that is near enough.

    Near enough is three standard uncertainties of the calibration, but at least five steps of the
    scale, 20 mbar of the gauge, or what :data:`NEAR_ENOUGH` says. ``nominal`` is the check weight's
    mass, or what a trusted instrument shows beside this one; a gauge takes none.
    ``zero`` is what the empty scale showed before. Raises when there is no reading to be trusted.
    """
    title = fitted.registered.title
    value = _steady_value(fitted, now)
    u = CALIBRATION_SHARE * fitted.registered.u_calibration
    if fitted.role is InstrumentRole.SCALE:
        name = "check weight"
        if nominal is None:
            raise NotAllowedError(
                "the mass of the check weight is missing.",
                where=title,
                advice="Type what its certificate says.",
                field="nominal",
            )
        if value < LEAST_SHARE * nominal:
            raise NotAllowedError(
                f"it shows {words.mass(value)}: the weight of {words.mass(nominal)} is not on it.",
                where=title,
                advice="Put it on and wait; nothing was judged.",
            )
        tolerance = limit_of(fitted)
    elif fitted.role is InstrumentRole.GAUGE:
        name, nominal, tolerance = "zero check", 0.0, max(LEAST_ZERO_PA, u)
    else:
        name, tolerance = "comparison", max(NEAR_ENOUGH[fitted.role], u)
        if nominal is None:
            raise NotAllowedError(
                "there is nothing to compare it with.",
                where=title,
                advice="Type what a trusted instrument beside it shows.",
                field="nominal",
            )
    passed = abs(value - nominal) <= tolerance
    return InstrumentChecked(
        fitted.registered.instrument_id, name, nominal, value, tolerance, passed, zero
    )


def limit_of(fitted: BenchInstrument) -> float:
    """Return how far a scale may be off its check weight, kg."""
    u = CALIBRATION_SHARE * fitted.registered.u_calibration
    return max(MASS_STEPS * fitted.resolution(1e-4), u)


def why_not_weight(fitted: BenchInstrument, weight: Material) -> str:
    """Return why a check weight does not suit a scale; empty: it does."""
    nominal, limit = weight.nominal_kg or 0.0, limit_of(fitted)
    error = permissible_error(nominal, weight.weight_class)
    if error is None or not suits(error, limit):
        return "its permissible error is more than a third of what is judged with it"
    if limit > LARGEST_SHARE * nominal:
        return "it is too light to tell whether the scale is right"
    return ""


def suitable_weights(stock: Stock, fitted: BenchInstrument, today: date) -> list[Material]:
    """Return the registered weights that a scale may be checked with today."""
    there = [w for w in stock.of(Sort.WEIGHT) if not stock.why_not(w, today)]
    return [w for w in there if not why_not_weight(fitted, w)]


def zero_is_proven(fitted: BenchInstrument, now: float) -> bool:
    """Return True when the empty pan was proven a short while ago."""
    return fitted.zero_proof is not None and 0.0 <= now - fitted.zero_proof[0] <= PROOF_HOLDS_S


def proven_zero(fitted: BenchInstrument, now: float) -> float:
    """Return what the empty pan showed; raise when that was not proven a short while ago."""
    _steady_value(fitted, now)
    proof = fitted.zero_proof
    if proof is None or not zero_is_proven(fitted, now):
        raise NotAllowedError(
            "the empty pan is not proven.",
            where=fitted.registered.title,
            advice="Take everything off, prove the zero, then put the weight on.",
        )
    return proof[1]
