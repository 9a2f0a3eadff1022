"""Calibrations in words and figures: what is in force, history, drift, and units they touch."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from itertools import pairwise

import numpy as np

from benchstation.bench.certificate_form import unit_of
from benchstation.domain.as_found import Effect
from benchstation.domain.calibrating import line_of, result_in_force
from benchstation.domain.calibrations import calibration_of
from benchstation.domain.events import (
    CalibrationResult,
    InstrumentRegistered,
    RepeatabilityMeasured,
)
from benchstation.domain.inputs.limits import spread_of
from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.metrology.drift import Drift, drift_between, trend
from benchstation.metrology.due import Standing, standing
from benchstation.quantities.formatter import QuantityFormatter, local_day, signed
from benchstation.quantities.notation import first_power, fixed, significant
from benchstation.quantities.units import Dimension, Shown, display_unit, parse, shown, to_display
from benchstation.screens.model.elements import CurveView, TermGroup, TermView, Tone
from benchstation.store.journal import Entry


@dataclass(frozen=True, slots=True)
class Figures:
    """A role's values as text: values, differences and uncertainties."""

    role: InstrumentRole
    words: QuantityFormatter

    @property
    def difference(self) -> Dimension:
        """Return the dimension of an offset."""
        return spread_of(self.role.dimension)

    def offset(self, result: CalibrationResult) -> float:
        """Return the offset that goes with the gain on the scale that is shown, such as degrees."""
        dimension = self.role.dimension
        zero = parse("0", dimension, default_unit=display_unit(dimension, self.words.system))
        return result.offset - zero * (1.0 - result.gain)

    @property
    def unit(self) -> str:
        """Return the unit of a difference."""
        same = self.difference is self.role.dimension
        own = display_unit(self.difference, self.words.system)
        return unit_of(self.role, self.words.system) if same else own

    def number(self, si: float) -> float:
        """Return a difference in that unit."""
        if self.role is not InstrumentRole.BAROMETER:
            return to_display(si, self.difference, self.words.system)
        return si / parse(f"1 {self.unit}", Dimension.PRESSURE)

    def value(self, si: float) -> str:
        """Return a value."""
        if self.role is InstrumentRole.BAROMETER:
            return self.words.barometer(si)
        return str(shown(si, self.role.dimension, self.words.system))

    def off(self, si: float, u: float = 0.0) -> str:
        """Return a difference with its sign, as fine as its uncertainty."""
        return str(signed(self._difference(si, u or abs(si))))

    def u(self, si: float) -> str:
        """Return a standard uncertainty, to two significant digits."""
        return str(self._difference(si, si))

    def _difference(self, si: float, fine: float) -> Shown:
        """Return a difference with as many decimals as ``fine`` has for two digits."""
        value, place = self.number(si), first_power(self.number(fine), 2)
        decimals = 1 if place is None else max(0, 1 - place)
        return Shown(fixed(value, decimals), self.unit, value)


def in_force_group(
    title: str, registered: InstrumentRegistered, figures: Figures, today: date
) -> TermGroup:
    """Return the calibration in force, or one that would be."""
    if not registered.calibrated_until:
        none = TermView("Certificate", "none", "nothing can be captured without a deviation")
        return TermGroup(title, (none,))
    details = registered.calibration
    until = date.fromisoformat(registered.calibrated_until)
    result = result_in_force(registered)
    terms = [
        TermView(
            "Certificate",
            registered.certificate,
            details.laboratory if details else "",
            strong=True,
        ),
        TermView(
            "In force",
            f"{registered.calibrated_on} to {until}",
            _standing(standing(until, today), until, today),
        ),
        *result_terms(result, figures),
    ]
    if details is not None:
        terms.insert(2, TermView("Range", range_words(details.low, details.high, figures)))
    return TermGroup(title, tuple(terms))


def _standing(found: Standing, until: date, today: date) -> str:
    left = (until - today).days
    if found is Standing.OVERDUE:
        return f"OVERDUE since {until}"
    return f"due in {left} days" if found is Standing.DUE_SOON else f"{left} days left"


def range_words(low: float | None, high: float | None, figures: Figures) -> str:
    """Return the range that was calibrated."""
    if low is None and high is None:
        return "not stated"
    ends = ("…" if end is None else figures.value(end) for end in (low, high))
    return " to ".join(ends)


def result_terms(result: CalibrationResult, figures: Figures) -> tuple[TermView, ...]:
    """Return gain, offset and uncertainty, and what the points showed where there are any."""
    offset = figures.off(figures.offset(result), result.u)
    terms = [
        TermView(
            "Correction", f"{significant(result.gain, 6)} × reading, {offset}", "to the true value"
        ),
        TermView("Standard uncertainty", figures.u(result.u), "the largest in the range, k = 1"),
    ]
    if result.points:
        terms.append(
            TermView("Nonlinearity", figures.u(result.nonlinearity or 0.0), "largest from the line")
        )
        if result.hysteresis is not None:
            terms.append(TermView("Hysteresis", figures.u(result.hysteresis), "up against down"))
        if result.repeatability is not None:
            terms.append(
                TermView("Repeatability", figures.u(result.repeatability), "of the points")
            )
        count = len(result.points)
        terms.append(TermView("Points", str(count), f"{sum(p.down for p in result.points)} down"))
    return tuple(terms)


def repeatability_group(
    studies: Sequence[Entry], names: Mapping[str, str], figures: Figures
) -> TermGroup:
    """Return the repeatability studies, the newest first."""
    terms = []
    for entry in reversed(studies):
        found = entry.event
        assert isinstance(found, RepeatabilityMeasured)
        terms.append(
            TermView(
                local_day(entry.utc),
                f"{figures.u(found.std)}, {found.dof} degrees of freedom",
                f"{figures.value(found.nominal)} on and off {len(found.loaded)} times, "
                f"{names.get(entry.person, entry.person)}",
                strong=entry is studies[-1],
            )
        )
    none = TermView(
        "Studies", "none yet", "a weight on and off the pan ten times, steady each time"
    )
    return TermGroup("Repeatability, one standard deviation", tuple(terms) or (none,))


# --- history and drift ---------------------------------------------------------------------------


def by_day(history: Sequence[Entry]) -> list[Entry]:
    """Return calibrations by the day they were made; what has none stands first."""
    return sorted(history, key=lambda entry: _registered(entry).calibrated_on)


def reading_for_drift(history: Sequence[Entry]) -> float:
    """Return the reading at which calibrations are compared: the end of the last stated range."""
    for entry in reversed(history):
        event = _registered(entry)
        if event.calibration is not None and event.calibration.high:
            return event.calibration.high
        points = result_in_force(event).points
        if points:
            return max(p.reading for p in points)
    return 0.0


def _registered(entry: Entry) -> InstrumentRegistered:
    assert isinstance(entry.event, InstrumentRegistered)
    return entry.event


def _as_found(event: InstrumentRegistered) -> CalibrationResult | None:
    return event.calibration.found if event.calibration else result_in_force(event)


def _day(event: InstrumentRegistered) -> date | None:
    return date.fromisoformat(event.calibrated_on) if event.calibrated_on else None


def drift_of(
    before: InstrumentRegistered, after: InstrumentRegistered, reading: float
) -> Drift | None:
    """Return how far it had moved when it came to the next calibration; ``None``: nobody knows."""
    found, first, last = _as_found(after), _day(before), _day(after)
    if found is None or first is None or last is None or last <= first:
        return None
    old = line_of(result_in_force(before))
    return drift_between(old, line_of(found), reading, (last - first).days)


def history_group(history: Sequence[Entry], figures: Figures) -> TermGroup:
    """Return each calibration, the newest first, with how far it had moved until then."""
    reading = reading_for_drift(history)
    terms = []
    for n in range(len(history) - 1, -1, -1):
        event = _registered(history[n])
        label = event.calibrated_on or local_day(history[n].utc)
        if n == 0:
            moved = ""
        else:
            drift = drift_of(_registered(history[n - 1]), event, reading)
            moved = drift_words(drift, figures)
        adjusted = "adjusted; " if event.calibration and event.calibration.adjusted else ""
        terms.append(TermView(label, event.certificate or "no certificate", f"{adjusted}{moved}"))
    at = (
        f", at {figures.value(reading)}"
        if reading or figures.role is not InstrumentRole.SCALE
        else ""
    )
    return TermGroup(f"History{at}", tuple(terms))


def drift_words(drift: Drift | None, figures: Figures) -> str:
    """Return how far it moved since the calibration before, and whether that is proved."""
    if drift is None:
        return "as found is not known"
    moved = figures.off(drift.change, drift.u_change)
    proved = "proved" if drift.proved else "within the uncertainty"
    return f"moved {moved} in {drift.days} days: {proved}"


def drift_curve(history: Sequence[Entry], figures: Figures) -> tuple[CurveView, ...]:
    """Return how far the reading moved over the days; nothing for one calibration.

    Adjustments are left out: each step is what came against what had left the laboratory before.
    """
    reading = reading_for_drift(history)
    events = [_registered(entry) for entry in history if _day(_registered(entry)) is not None]
    moved = _moved(events, reading)
    if len(moved) < 2:
        return ()
    x = np.array([float((day - moved[0][0]).days) for day, _, _ in moved])
    middle = np.array([figures.number(change) for _, change, _ in moved])
    spread = np.array([figures.number(2.0 * u) for _, _, u in moved])
    return (
        CurveView(
            f"Drift at {figures.value(reading)}, {figures.unit}",
            f"days since {moved[0][0]}",
            x,
            (
                ("+ U", Tone.QUIET, middle + spread),
                ("moved", Tone.PLAIN, middle),
                ("− U", Tone.QUIET, middle - spread),
            ),
        ),
    )


def _moved(
    events: Sequence[InstrumentRegistered], reading: float
) -> list[tuple[date, float, float]]:
    """Return the day of each calibration, how far it had moved until then, and u of that."""
    if not events:
        return []
    first = _day(events[0])
    assert first is not None
    found = [(first, 0.0, line_of(result_in_force(events[0])).u(reading))]
    total = 0.0
    for before, after in pairwise(events):
        drift, day = drift_of(before, after, reading), _day(after)
        if drift is None or day is None:
            continue
        total += drift.change
        found.append((day, total, drift.u_change))
    return found


def trend_terms(history: Sequence[Entry], figures: Figures) -> tuple[TermView, ...]:
    """Return the line through three calibrations or more."""
    reading = reading_for_drift(history)
    events = [_registered(entry) for entry in history if _day(_registered(entry)) is not None]
    moved = _moved(events, reading)
    if len({day for day, _, _ in moved}) < 3:
        return ()
    line = trend([(day, change) for day, change, _ in moved])
    per_year = figures.off(line.per_day * 365.25)
    said = "proved (95 %)" if line.proved else "not proved"
    return (TermView("Drift a year", per_year, f"{said}, from {len(moved)} calibrations"),)


# --- units ---------------------------------------------------------------------------------------


def effect_group(
    found: Sequence[Effect], units: int, before: str, words: QuantityFormatter
) -> TermGroup:
    """Return which filed units rest on the calibration before, and whose verdict would change."""
    worse = [effect for effect in found if effect.worse]
    terms = [TermView("Filed units that rest on it", str(units), f"since calibration {before}")]
    if found:
        shifts = {
            what: max((e.corrected - e.deviation for e in found if e.what == what), key=abs)
            for what in dict.fromkeys(e.what for e in found)
        }
        for what, shift in shifts.items():
            terms.append(TermView(f"Largest change of {what}", _shift(what, shift, words)))
    said = "QA decides on each" if worse else "each verdict stands with the error as found"
    terms.append(
        TermView("Verdicts that would be worse", str(len(worse)), said, strong=bool(worse))
    )
    for effect in worse:
        filed = local_day(datetime.fromisoformat(effect.filed_utc))
        was, now = (_shift(effect.what, v, words) for v in (effect.deviation, effect.corrected))
        terms.append(
            TermView(
                effect.serial,
                f"{effect.what} {effect.decision} → {effect.decision_now}",
                f"{was} off target on record, {now} as found; filed {filed}",
                strong=True,
            )
        )
    return TermGroup("What the error as found did to units", tuple(terms))


def unknown_effect_group(units: int, before: str) -> TermGroup:
    """Return that nobody can say what became of the units."""
    return TermGroup(
        "What the error as found did to units",
        (
            TermView("Filed units that rest on it", str(units), f"since calibration {before}"),
            TermView("Their verdicts", "not known", "it was adjusted, and as found is not known"),
        ),
    )


def _shift(what: str, si: float, words: QuantityFormatter) -> str:
    dimension = Dimension.MASS if what == "oil" else Dimension.PRESSURE
    decimals = 2 if dimension is Dimension.MASS and words.system == "metric" else None
    return str(signed(shown(si, dimension, words.system, decimals=decimals)))


def name_of(registered: InstrumentRegistered) -> str:
    """Return how a calibration is named, or that there is none."""
    return calibration_of(registered) or "none"
