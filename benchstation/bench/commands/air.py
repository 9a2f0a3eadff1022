"""Air temperature, barometer, humidity and the unit's temperature, typed or read by a probe."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import partial

from benchstation.bench.bench_air import PROBE_BAND_K, USUAL_STEP, surface_thermometer
from benchstation.bench.judging import tried
from benchstation.bench.messages import Message
from benchstation.bench.session import WORKERS, BenchSession, Command
from benchstation.domain.air_evidence import (
    PLAUSIBLE,
    WEATHER_PA,
    AirQuantity,
    AirSource,
)
from benchstation.domain.body_temperature import BOUND_K
from benchstation.domain.calibrations import calibration_of
from benchstation.domain.events import AirRead, BodyMeasured, Event, InRoomSince
from benchstation.domain.since import read_since, since_in_words
from benchstation.domain.unit_commands import NotAllowedError, require_step
from benchstation.driver_api.errors import StationError, in_field
from benchstation.quantities.notation import significant
from benchstation.quantities.units import (
    Dimension,
    UnitSystem,
    barometer_unit,
    display_unit,
    in_typed_unit,
    parse,
    to_display,
)

AIR = "air"
"""The form that asks for air, barometer and the unit's temperature."""
HUMIDITY_UNIT = "%"
LONGEST_SOURCE = 64
UNIT_RANGE_K = (253.15, 373.15)
SEA_LEVEL = 5.0
"""So many standard deviations of the weather off its altitude, a barometer is not of this place."""
_LARGEST_U = {
    AirQuantity.TEMPERATURE: 10.0,
    AirQuantity.PRESSURE: 5000.0,
    AirQuantity.HUMIDITY: 0.5,
}
_NAMES = {
    AirQuantity.TEMPERATURE: "air",
    AirQuantity.PRESSURE: "barometer",
    AirQuantity.HUMIDITY: "humidity",
}


_DIMENSION = {
    AirQuantity.TEMPERATURE: Dimension.TEMPERATURE,
    AirQuantity.PRESSURE: Dimension.PRESSURE,
    AirQuantity.HUMIDITY: Dimension.HUMIDITY,
}


@dataclass(frozen=True, slots=True)
class AskAir(Command):
    """Ask for what nothing at the bench reads."""

    roles = WORKERS

    def __call__(self, session: BenchSession) -> Message:
        require_step(session.unit())
        session.work.show_form(AIR)
        return Message("Give what you read, and what you read it on.")


@dataclass(frozen=True, slots=True)
class NoteAir(Command):
    """Put on record what a person read of the air and of the unit; what is empty is left out."""

    roles = WORKERS
    form: Mapping[str, str]
    units: UnitSystem = UnitSystem.METRIC

    def __call__(self, session: BenchSession) -> Message:
        read = [self._air(session, quantity) for quantity in AirQuantity]
        given = (*read, self._body(session), self._since(session))
        events: list[Event] = [event for event in given if event is not None]
        if not events:
            raise NotAllowedError(
                "nothing is typed.", advice="Give at least one figure, or cancel.", field="air"
            )
        session.journal(events)
        session.work.close_form()
        now = session.clock.utc()
        return Message(f"On record: {'; '.join(_said(event, now) for event in events)}.")

    def wrong(self, session: BenchSession) -> Iterable[StationError]:
        read = (partial(self._air, session, quantity) for quantity in AirQuantity)
        return tried(*read, partial(self._body, session), partial(self._since, session))

    def _text(self, name: str) -> str:
        return self.form.get(name, "").strip()

    def _air(self, session: BenchSession, quantity: AirQuantity) -> AirRead | None:
        name = _NAMES[quantity]
        if not self._text(name):
            return None
        fitted = session.known_air.instrument_for(quantity, session.instruments, session.moment())
        if fitted is not None:
            raise NotAllowedError(
                f"{fitted.registered.title} is fit: it is read by the bench.",
                advice="Leave this empty; typing is for what no fit instrument reads.",
                field=name,
            )
        value = self._value(quantity)
        if quantity is AirQuantity.PRESSURE:
            _refuse_sea_level(session, value)
        u = self._u(quantity, name)
        return AirRead(quantity.value, value, u, self._source(name))

    def _value(self, quantity: AirQuantity) -> float:
        name, (low, high) = _NAMES[quantity], PLAUSIBLE[quantity]
        return self._between(name, _DIMENSION[quantity], self._unit_text(quantity), low, high)

    def _between(
        self, name: str, dimension: Dimension, unit: str, low: float, high: float
    ) -> float:
        text = self._text(name)
        with in_field(name):
            value = parse(text, dimension, default_unit=unit)
        if not low <= value <= high:
            least, most = (in_typed_unit(v, text, dimension, unit) for v in (low, high))
            raise NotAllowedError(
                f"'{text}' cannot be: it is between {least} and {most}.",
                advice="Check the figure and its unit; what you typed is kept.",
                field=name,
            )
        return value

    def _unit_text(self, quantity: AirQuantity) -> str:
        if quantity is AirQuantity.PRESSURE:
            return barometer_unit(self.units)
        if quantity is AirQuantity.HUMIDITY:
            return HUMIDITY_UNIT
        return display_unit(Dimension.TEMPERATURE, self.units)

    def _u(self, quantity: AirQuantity, name: str) -> float:
        spread = quantity is AirQuantity.TEMPERATURE
        dimension = Dimension.TEMPERATURE_DIFFERENCE if spread else _DIMENSION[quantity]
        unit = display_unit(dimension, self.units) if spread else self._unit_text(quantity)
        least = USUAL_STEP[quantity] / 100.0
        field = f"{name}_u"
        if not self._text(field):
            raise NotAllowedError(
                "its uncertainty is missing.",
                advice="Give U with k = 2: of its certificate, or what you may misread.",
                field=field,
            )
        return self._between(field, dimension, unit, least, 2 * _LARGEST_U[quantity]) / 2.0

    def _source(self, name: str) -> str:
        source = self._text(f"{name}_on")
        if not source or not source.isprintable() or len(source) > LONGEST_SOURCE:
            raise NotAllowedError(
                "what it was read on is missing.",
                advice=f"Such as: wall thermometer; up to {LONGEST_SOURCE} characters.",
                field=f"{name}_on",
            )
        return source

    def _body(self, session: BenchSession) -> BodyMeasured | None:
        if not self._text("unit"):
            return None
        rebuild = session.unit()
        step, unit = require_step(rebuild), display_unit(Dimension.TEMPERATURE, self.units)
        value = self._between("unit", Dimension.TEMPERATURE, unit, *UNIT_RANGE_K)
        u = self._u(AirQuantity.TEMPERATURE, "unit")
        return BodyMeasured(rebuild.unit_id, step.id, value, u, self._source("unit"))

    def _since(self, session: BenchSession) -> InRoomSince | None:
        if not self._text("since"):
            return None
        rebuild = session.unit()
        step = require_step(rebuild)
        with in_field("since"):
            since = read_since(self._text("since"), session.clock.utc())
        utc = since.isoformat(timespec="seconds")
        return InRoomSince(rebuild.unit_id, step.id, utc, BOUND_K)


def _refuse_sea_level(session: BenchSession, pressure_pa: float) -> None:
    """Raise for a barometer that does not belong to this altitude: reduced to sea level."""
    known = session.known_air
    expected = known.estimate().pressure_pa
    if known.altitude_known and abs(pressure_pa - expected) > SEA_LEVEL * WEATHER_PA:
        words = session.words
        raise NotAllowedError(
            f"{words.barometer(pressure_pa)} is not of this altitude: about "
            f"{words.barometer(expected)} is.",
            advice="Weather reports give the pressure at sea level: read a barometer here.",
            field=_NAMES[AirQuantity.PRESSURE],
        )


def _said(event: Event, now_utc: datetime) -> str:
    match event:
        case AirRead():
            return event.quantity
        case BodyMeasured():
            return "unit temperature"
        case InRoomSince():
            return f"in this room {since_in_words(datetime.fromisoformat(event.since), now_utc)}"
    raise AssertionError(event)


@dataclass(frozen=True, slots=True)
class MeasureUnit(Command):
    """Put the unit's temperature on record as the probe on its body shows it."""

    roles = WORKERS

    def __call__(self, session: BenchSession) -> Message:
        rebuild = session.unit()
        step = require_step(rebuild)
        probe = surface_thermometer(session.instruments)
        if probe is None:
            raise NotAllowedError(
                "no thermometer of this bench is put on the unit.",
                where=step.title,
                advice="Read one yourself and type it, or say since when it is in this room.",
            )
        title, value = probe.registered.title, probe.good_value(session.clock.seconds())
        unfit = probe.unfit(session.today)
        if value is None or not UNIT_RANGE_K[0] <= value <= UNIT_RANGE_K[1] or unfit:
            raise NotAllowedError(
                f"{unfit or 'it gives no reading that a unit can have'}.",
                where=title,
                advice="Put that right, or type what another thermometer shows.",
            )
        if session.known_air.probe_moves(session.clock.seconds()):
            raise NotAllowedError(
                "it still moves.",
                where=title,
                advice="Hold it on the unit until it stands for ten seconds.",
            )
        digit = probe.resolution(USUAL_STEP[AirQuantity.TEMPERATURE])
        # What it may still lag behind by, rectangular, is within what it was let move.
        lag = PROBE_BAND_K / 12**0.5
        u = (probe.registered.u_calibration**2 + digit**2 / 12 + lag**2) ** 0.5
        session.journal(
            [
                BodyMeasured(
                    rebuild.unit_id,
                    step.id,
                    value,
                    u,
                    title,
                    probe.id,
                    calibration_of(probe.registered),
                )
            ]
        )
        session.work.close_form()
        return Message(f"The unit has {session.words.temperature(value)}.")


def kept(session: BenchSession, name: str) -> tuple[str, str]:
    """Return what a figure was last read on, and its U, as the form's fields begin."""
    quantity = next((q for q, field in _NAMES.items() if field == name), None)
    known = session.known_air.noted.get(quantity) if quantity is not None else None
    if known is None or known.source is not AirSource.TYPED:
        return "", ""
    if quantity is AirQuantity.PRESSURE:
        unit = barometer_unit(session.display)
        return known.name, in_typed_unit(2 * known.u, "", Dimension.PRESSURE, unit, digits=3)
    dimension = Dimension.TEMPERATURE_DIFFERENCE
    shown = to_display(2 * known.u, dimension, session.display)
    return known.name, f"{significant(shown, 3)} {display_unit(dimension, session.display)}"
