"""The Instruments page: what is fitted, how its line does, and its last frames."""

import math
from collections.abc import Mapping
from dataclasses import replace

from benchstation.bench.bench_instrument import BenchInstrument
from benchstation.bench.instrument_checks import limit_of, suitable_weights, zero_is_proven
from benchstation.bench.session import BenchSession
from benchstation.domain.calibrating import result_in_force
from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.link.statistics import LinkState, LinkStatistics
from benchstation.metrology.check_weights import SHARE
from benchstation.quantities.notation import fixed
from benchstation.screens.bench.lamp import lamp_view
from benchstation.screens.instruments.calibration_words import Figures, result_terms
from benchstation.screens.model.bench import ReadingView
from benchstation.screens.model.elements import (
    ActionView,
    FieldKind,
    FieldView,
    TermGroup,
    TermView,
    Tone,
)
from benchstation.screens.model.instruments import InstrumentView
from benchstation.screens.model.records import UNITS_OF, UNITS_SINCE

RAW_LINES = 10
KEYS = {
    InstrumentRole.SCALE: {
        "check": "Ctrl+K",
        "prove_empty": "Ctrl+E",
        "zero": "Ctrl+O",
        "withdraw_check": "Ctrl+W",
        UNITS_OF: "Ctrl+R",
        UNITS_SINCE: "Ctrl+D",
    },
    InstrumentRole.GAUGE: {
        "check": "Ctrl+L",
        "withdraw_check": "Ctrl+P",
        UNITS_OF: "Ctrl+G",
        UNITS_SINCE: "Ctrl+H",
    },
}
"""Of each action: a key does one thing, so it belongs to the first instrument of its role."""
CHECKS = {
    InstrumentRole.SCALE: "Check weight",
    InstrumentRole.GAUGE: "Check zero of the open line",
}
_TONE = {
    LinkState.LIVE: Tone.NORMAL,
    LinkState.SEARCHING: Tone.CAUTION,
    LinkState.SILENT: Tone.CAUTION,
    LinkState.LOST: Tone.DANGER,
    LinkState.FAILED: Tone.DANGER,
}


def instrument_views(
    session: BenchSession, strip: tuple[ReadingView, ...]
) -> tuple[InstrumentView, ...]:
    """Return one view for each instrument with its reading, and one for the lamp if there is one.

    May be called from any thread.
    """
    fitted = {one.id: one for one in session.instruments}
    # A moment that was built before an exchange may tell of an instrument that is gone.
    views = tuple(_view(session, fitted[one.id], one) for one in strip if one.id in fitted)
    return views if session.outputs.lamp is None else (*views, lamp_view(session.outputs.lamp))


def _view(session: BenchSession, fitted: BenchInstrument, reading: ReadingView) -> InstrumentView:
    instrument, registered = fitted.instrument, fitted.registered
    state, statistics = instrument.link_state, instrument.statistics
    line = TermGroup(
        "Line",
        (
            TermView("State", state.value, instrument.link_words),
            TermView("Profile", instrument.profile.title, instrument.profile.id),
            TermView("Readings", f"{statistics.readings}"),
            TermView("Rate", _rate(statistics), "of the last readings"),
            TermView(
                "Spoilt or refused frames",
                f"{statistics.rejected}",
                f"{statistics.discarded_bytes} bytes belonged to none",
            ),
            TermView("Dropped, unanswered", f"{statistics.dropped}, {statistics.unanswered}"),
            TermView("Times connected", f"{statistics.connects}", statistics.last_error),
        ),
    )
    checked, figures = fitted.checked, Figures(fitted.role, session.words)
    calibration = TermGroup(
        "Calibration",
        (
            *((TermView("What it is for", fitted.use),) if fitted.use else ()),
            TermView("Serial number", registered.serial_number),
            TermView(
                "In force",
                f"{registered.calibrated_on or '-'} to {registered.calibrated_until or '-'}",
            ),
            TermView("Certificate", registered.certificate or "-"),
            *result_terms(result_in_force(registered), figures)[:2],
            *_repeatability(fitted, figures),
            TermView(
                "Newest check",
                "not done yet" if checked is None else "passed" if checked.passed else "FAILED",
                f"{checked.check}, {fitted.checked_on}" if checked else "",
            ),
        ),
    )
    first = session.instruments.of(fitted.role)[0] is fitted
    keys = KEYS.get(fitted.role, {}) if first else {}
    words = instrument.link_words
    return InstrumentView(
        registered.role,
        registered.title,
        f"{state.value}: {words}" if words else state.value,
        _TONE[state],
        reading,
        (line, calibration),
        _raw(fitted),
        check_actions(session, fitted, keys),
        check_fields(session, fitted),
        fitted.id,
        (
            ActionView(UNITS_OF, "Records of its units", keys.get(UNITS_OF, "")),
            ActionView(UNITS_SINCE, "Those since the last good check", keys.get(UNITS_SINCE, "")),
        ),
    )


def check_fields(session: BenchSession, fitted: BenchInstrument) -> tuple[FieldView, ...]:
    """Return the fields of the check that can be made of it here."""
    if fitted.role is not InstrumentRole.SCALE:
        return ()
    return (_weight_field(session, fitted),)


def check_actions(
    session: BenchSession, fitted: BenchInstrument, keys: Mapping[str, str]
) -> tuple[ActionView, ...]:
    """Return the check that can be made of it here, if there is one, and what belongs to it."""
    label = CHECKS.get(fitted.role)
    if label is None:
        return ()
    signed_in = session.person is not None
    why_not = "" if signed_in else "sign in first"
    judge = ActionView("check", label, keys.get("check", ""), signed_in, why_not, primary=True)
    withdraw = ActionView(
        "withdraw_check",
        "Withdraw the newest check",
        keys.get("withdraw_check", ""),
        signed_in,
        why_not,
        needs_reason=True,
        needs_pin=True,
    )
    there = (withdraw,) if fitted.checked is not None else ()
    if fitted.role is not InstrumentRole.SCALE:
        return (judge, *there)
    proven = zero_is_proven(fitted, session.clock.seconds())
    empty = "" if proven else "prove the empty pan first"
    return (
        replace(judge, enabled=signed_in and proven, why_not=why_not or empty, primary=proven),
        ActionView(
            "prove_empty",
            "Empty pan: prove zero",
            keys.get("prove_empty", ""),
            signed_in,
            why_not,
            primary=not proven,
        ),
        ActionView("zero", "Zero the scale", keys.get("zero", ""), signed_in, why_not),
        *there,
    )


def _weight_field(session: BenchSession, fitted: BenchInstrument) -> FieldView:
    """Return the choice of the weights that suit a scale, with what is to be done next."""
    good = suitable_weights(session.shop.stock, fitted, session.today)
    words = session.words
    choices = tuple(
        (w.lot, f"{w.lot}, {words.mass(w.nominal_kg or 0.0)}, class {w.weight_class}") for w in good
    )
    if zero_is_proven(fitted, session.clock.seconds()):
        hint = "2. Put it on, wait until it is steady, then check."
    else:
        hint = "1. Take everything off and prove the zero."
    if not good:
        least = words.mass(limit_of(fitted) / SHARE, 4)
        hint = f"None that suits: a lead receives one good to {least} on Materials (F11)."
    first = choices[0][0] if len(choices) == 1 else ""
    return FieldView("weight", "Check weight", FieldKind.CHOICE, first, hint, choices, scanned=True)


def _repeatability(fitted: BenchInstrument, figures: Figures) -> tuple[TermView, ...]:
    """Return what the newest repeatability run of a scale found."""
    if fitted.role is not InstrumentRole.SCALE:
        return ()
    found = fitted.repeatability
    if found is None:
        return (TermView("Repeatability", "not run yet", "see Calibrations"),)
    source = f"{found.dof} degrees of freedom, at {figures.value(found.nominal)}"
    return (TermView("Repeatability", figures.u(found.std), source),)


def _rate(statistics: LinkStatistics) -> str:
    if math.isnan(statistics.rate_hz):
        return "-"
    return f"{fixed(statistics.rate_hz, 1)} a second, ± {fixed(statistics.jitter_s * 1e3, 0)} ms"


def _raw(fitted: BenchInstrument) -> tuple[str, ...]:
    """Return the last lines as they went over the wire, what was sent marked by ``>``."""
    return tuple(
        f"{'>' if sent else ' '} {repr(data)[2:-1]}"
        for sent, data in fitted.instrument.raw_lines(RAW_LINES)
    )
