"""What is typed of a calibration certificate, read into figures; refused by field."""

import re
from collections.abc import Mapping
from datetime import date

from benchstation.domain.calibrating import (
    Certificate,
    check_dates,
    result_of_figures,
    result_of_points,
)
from benchstation.domain.events import CalibrationResult, Compared
from benchstation.domain.inputs.given import YES
from benchstation.domain.inputs.limits import spread_of
from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.driver_api.errors import in_field
from benchstation.metrology.errors import MetrologyError
from benchstation.quantities.units import UnitSystem, barometer_unit, display_unit, parse

CERTIFICATE, LABORATORY, ON, UNTIL = "certificate", "laboratory", "on", "until"
LOW, HIGH, UNIT, U_REFERENCE = "low", "high", "points_unit", "u_reference"
POINTS, GAIN, OFFSET, U = "points", "gain", "offset", "u"
ADJUSTED, FOUND_POINTS, FOUND_GAIN, FOUND_OFFSET = (
    "adjusted",
    "found_points",
    "found_gain",
    "found_offset",
)
NAMES = (
    CERTIFICATE,
    LABORATORY,
    ON,
    UNTIL,
    LOW,
    HIGH,
    UNIT,
    U_REFERENCE,
    POINTS,
    GAIN,
    OFFSET,
    U,
    ADJUSTED,
    FOUND_POINTS,
    FOUND_GAIN,
    FOUND_OFFSET,
)
"""All fields of the form."""
MOST_POINTS, LONGEST_TEXT = 200, 200
_SEPARATOR = re.compile(r"[;\t|]|\s+")
_WAYS = {"up": False, "u": False, "↑": False, "down": True, "d": True, "↓": True}
_DECIMAL_COMMA = re.compile(r"(?<![\d,.])(?:0,\d+|\d+,(?:\d{1,2}|\d{4,}))(?!\d)", re.ASCII)
"""A number whose comma is no thousands mark."""
_NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)", re.ASCII)


def unit_of(role: InstrumentRole, units: UnitSystem) -> str:
    """Return the unit that a role's values are typed in; a barometer's is that of the weather."""
    if role is InstrumentRole.BAROMETER:
        return barometer_unit(units)
    return display_unit(role.dimension, units)


def is_given(form: Mapping[str, str]) -> bool:
    """Return True when anything of a certificate was typed."""
    return any(form.get(name, "").strip() for name in NAMES if name not in (UNIT, ADJUSTED))


def certificate_from(
    form: Mapping[str, str],
    role: InstrumentRole,
    units: UnitSystem,
    today: date,
    *,
    step: float = 0.0,
) -> Certificate:
    """Return what a form says of a certificate. Raises ``StationError`` that names the field.

    Points and figures together are refused. ``step`` is the last digit that the instrument shows.
    """
    number = _text(form, CERTIFICATE, "the certificate has no number.")
    laboratory = _text(form, LABORATORY, "the laboratory has no name.")
    on, until = _day(form, ON), _day(form, UNTIL)
    check_dates(on, until, today)
    reader = _Reader(form, role, units, step)
    low, high = reader.range()
    left = reader.result(POINTS, GAIN, OFFSET, low, high)
    if left is None:
        raise NotAllowedError(
            "neither points nor a gain with its uncertainty are typed.",
            where="Calibration",
            advice="Type the points of the certificate, or its gain, offset and uncertainty.",
            field=POINTS,
        )
    if left.points:
        # What was not compared is not calibrated: a range that is not typed is that of the points.
        places = [point.reference for point in left.points]
        low = min(places) if low is None else low
        high = max(places) if high is None else high
    adjusted = form.get(ADJUSTED) == YES
    found = reader.result(FOUND_POINTS, FOUND_GAIN, FOUND_OFFSET, low, high, u=left.u)
    if found is not None and not adjusted:
        raise NotAllowedError(
            "figures as found are typed, and it is not said that it was adjusted.",
            where="Calibration",
            advice="Tick that it was adjusted, or empty the figures as found.",
            field=ADJUSTED,
        )
    return Certificate(
        number, laboratory, on, until, low, high, left, found if adjusted else left, adjusted
    )


def _text(form: Mapping[str, str], name: str, missing: str) -> str:
    text = form.get(name, "").strip()
    if not text or len(text) > LONGEST_TEXT:
        what = missing if not text else f"more than {LONGEST_TEXT} letters are typed."
        raise NotAllowedError(what, where="Calibration", advice="See the certificate.", field=name)
    return text


def _day(form: Mapping[str, str], name: str) -> date:
    text = form.get(name, "").strip()
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise NotAllowedError(
            f"'{text[:20]}' is no day." if text else "a day is missing.",
            where="Calibration",
            advice="Type it as 2026-03-02.",
            field=name,
        ) from None


class _Reader:
    """Reads the figures of one form in the units that it names."""

    def __init__(
        self, form: Mapping[str, str], role: InstrumentRole, units: UnitSystem, step: float
    ) -> None:
        self._form, self._step = form, step
        self._value, self._difference = role.dimension, spread_of(role.dimension)
        self._unit = form.get(UNIT, "").strip() or unit_of(role, units)
        self._own_unit = display_unit(self._difference, units)
        with in_field(UNIT):
            parse("1", self._value, default_unit=self._unit)

    def range(self) -> tuple[float | None, float | None]:
        """Return the ends of the range; ``None``: not stated."""
        low, high = self._quantity(LOW), self._quantity(HIGH)
        if low is not None and high is not None and high <= low:
            raise NotAllowedError(
                "the range ends where it begins, or before.",
                where="Calibration",
                advice="Type its lower end first.",
                field=HIGH,
            )
        return low, high

    def result(
        self,
        points: str,
        gain: str,
        offset: str,
        low: float | None,
        high: float | None,
        u: float | None = None,
    ) -> CalibrationResult | None:
        """Return what points or figures say; ``None`` where neither is typed."""
        figures = [name for name in (gain, offset) if self._form.get(name, "").strip()]
        if self._form.get(points, "").strip():
            own = [*figures, *([U] if points == POINTS and self._form.get(U, "").strip() else [])]
            if own:
                raise NotAllowedError(
                    "points and other figures are typed: the points give gain, offset and u.",
                    where="Calibration",
                    advice="Empty one of the two.",
                    field=own[0],
                )
            return self._of_points(points, low, high)
        if not figures and (u is not None or not self._form.get(U, "").strip()):
            return None
        with in_field(gain):
            factor = _number(self._form.get(gain, "").strip() or "1", "a gain")
        shift = self._quantity(offset, of_difference=True) or 0.0
        if u is None:
            u = self._quantity(U, of_difference=True)
        # The gain is that of the unit's own scale: 1.01 of degrees is not 1.01 of kelvins.
        zero = parse("0", self._value, default_unit=self._unit)
        return result_of_figures(factor, shift + zero * (1.0 - factor), u or 0.0)

    def _of_points(self, name: str, low: float | None, high: float | None) -> CalibrationResult:
        text = self._form[name]
        if "." not in text and _DECIMAL_COMMA.search(text):
            # One such number says what the comma of the others is.
            text = text.replace(",", ".")
        given = [line for line in text.splitlines() if line.strip()]
        if len(given) > MOST_POINTS:
            raise NotAllowedError(
                f"{len(given)} points are more than {MOST_POINTS}.",
                field=name,
                advice="Take fewer.",
            )
        common = self._quantity(U_REFERENCE, of_difference=True) or 0.0
        found: list[Compared] = []
        with in_field(name):
            for count, line in enumerate(given, 1):
                before = found[-1].reference if found else None
                was_down = found[-1].down if found else False
                found.append(self._point(line, count, before, was_down, common))
            try:
                return result_of_points(found, step=self._step, low=low, high=high)
            except MetrologyError as error:
                raise NotAllowedError(error.what, advice=error.advice) from error

    def _point(
        self, line: str, count: int, before: float | None, was_down: bool, common: float
    ) -> Compared:
        """Read ``reference reading [up | down] [u]``; without a way it follows the references."""
        words = [word for word in _SEPARATOR.split(line.strip()) if word]
        way = next((_WAYS[w.casefold()] for w in words if w.casefold() in _WAYS), None)
        numbers = [word for word in words if word.casefold() not in _WAYS]
        if len(numbers) not in (2, 3):
            raise NotAllowedError(
                f"line {count} is no point: '{line.strip()[:40]}'.",
                where="Calibration",
                advice="Type reference and reading, such as '50 50.002'; then up or down, and u.",
            )
        reference, reading = (self._si(text, count) for text in numbers[:2])
        u = self._u(numbers[2], count) if len(numbers) == 3 else common
        if way is None:
            falls = before is not None and reference < before
            rises = before is None or reference > before
            way = falls or (not rises and was_down)
        return Compared(reference, reading, way, u)

    def _si(self, text: str, count: int) -> float:
        _require_number(text, count)
        return parse(text, self._value, default_unit=self._unit)

    def _u(self, text: str, count: int) -> float:
        _require_number(text, count)
        return parse(text, self._difference, default_unit=self._difference_unit())

    def _difference_unit(self) -> str:
        """Return the unit of the points for their uncertainty: degrees are then differences."""
        return self._unit if self._value is self._difference else self._own_unit

    def _quantity(self, name: str, *, of_difference: bool = False) -> float | None:
        text = self._form.get(name, "").strip()
        if not text:
            return None
        dimension = self._difference if of_difference else self._value
        unit = self._difference_unit() if of_difference else self._unit
        with in_field(name):
            value = parse(text, dimension, default_unit=unit)
        if of_difference and name in (U, U_REFERENCE) and value < 0.0:
            raise NotAllowedError("an uncertainty is never below zero.", field=name)
        return value


def _number(text: str, what: str) -> float:
    if not _NUMBER.fullmatch(text) or len(text) > 30:
        raise NotAllowedError(
            f"'{text[:20]}' is not {what}.", where="Calibration", advice="Type one such as 1.0002."
        )
    return float(text.replace(",", "."))


def _require_number(text: str, count: int) -> None:
    if not _NUMBER.fullmatch(text) or len(text) > 30:
        raise NotAllowedError(
            f"'{text[:20]}' in line {count} is no number.",
            where="Calibration",
            advice="Type figures alone; the unit stands in its own field.",
        )
