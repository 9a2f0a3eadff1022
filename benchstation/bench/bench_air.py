"""What the bench knows of its air: live from instruments, typed by a person, else the set-up's."""

from collections import deque
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from functools import partial

from benchstation.bench.bench_instrument import BenchInstrument, BenchInstruments
from benchstation.config.settings import Settings
from benchstation.devices.instrument import Sample
from benchstation.domain.air_evidence import (
    SET_UP_HUMIDITY,
    SET_UP_K,
    SET_UP_PA,
    WEATHER_PA,
    AirEvidence,
    AirLimits,
    AirQuantity,
    AirSource,
    plausible,
)
from benchstation.domain.calibrations import calibration_of
from benchstation.domain.events import AirRead
from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.domain.surroundings import Surroundings
from benchstation.physics.air import pressure_at_altitude_pa
from benchstation.quantities.formatter import day_of
from benchstation.store.journal import Entry

ROLE_OF = {
    AirQuantity.TEMPERATURE: InstrumentRole.THERMOMETER,
    AirQuantity.PRESSURE: InstrumentRole.BAROMETER,
    AirQuantity.HUMIDITY: InstrumentRole.HYGROMETER,
}
USUAL_HUMIDITY = 0.45
USUAL_STEP = {
    AirQuantity.TEMPERATURE: 0.1,
    AirQuantity.PRESSURE: 100.0,
    AirQuantity.HUMIDITY: 0.01,
}

PROBE_READINGS = 2000
PROBE_WATCHED_S, PROBE_BAND_K = 10.0, 0.5


@dataclass(frozen=True, slots=True)
class Moment:
    """Now, by the station's clock and by the calendar."""

    seconds: float
    utc: datetime


@dataclass(slots=True)
class BenchAir:
    """The air at the bench, each quantity from the best that is known of it."""

    estimate: Callable[[], Surroundings]
    """The set-up's figures. They stand in for what nobody read, and are no evidence."""
    altitude_known: bool = False
    """The barometer's estimate is that of an altitude."""
    limits: AirLimits = field(default_factory=AirLimits)
    noted: dict[AirQuantity, AirEvidence] = field(default_factory=dict)
    """What a person typed last."""
    noted_at: dict[AirQuantity, float] = field(default_factory=dict)
    """When, by the station's clock: nobody sets that one. Not for what was typed before it ran."""

    probe: deque[tuple[float, float]] = field(default_factory=lambda: deque(maxlen=PROBE_READINGS))
    """The last readings of the thermometer on the unit: station clock in s, and K."""

    def follow_probe(self, samples: Iterable[Sample]) -> None:
        """Take what the thermometer on the unit showed."""
        self.probe.extend((sample.at, sample.value) for sample in samples)

    def probe_moves(self, now_s: float) -> bool:
        """Return True while the probe on the unit still moves, or was not watched long enough.

        A probe that was just put on lags behind; within ten seconds it may move by half a kelvin.
        """
        seen = [(at, value) for at, value in self.probe if now_s - at <= PROBE_WATCHED_S]
        if not seen or now_s - seen[0][0] < 0.8 * PROBE_WATCHED_S:
            return True
        values = [value for _, value in seen]
        return max(values) - min(values) > PROBE_BAND_K

    def go_by(self, settings: Settings) -> None:
        """Go by what the settings say of the place, and of how long a figure counts."""
        self.estimate = partial(estimated, settings)
        self.altitude_known = settings.altitude_m is not None
        self.limits = replace(
            self.limits,
            temperature_holds_s=settings.air_holds_s,
            barometer_holds_s=settings.barometer_holds_s,
            room_drift_k_s=settings.room_change_k / 3600.0,
        )

    def note(self, entry: Entry, seconds: float | None = None) -> None:
        """Take a figure that is on record, and when by the station's clock it came there."""
        event = entry.event
        if isinstance(event, AirRead):
            quantity = AirQuantity(event.quantity)
            self.noted_at.pop(quantity, None)
            if seconds is not None:
                self.noted_at[quantity] = seconds
            self.noted[quantity] = AirEvidence(
                quantity,
                event.value,
                event.u,
                AirSource.INSTRUMENT if event.instrument_id else AirSource.TYPED,
                event.source,
                entry.utc,
                entry.person,
                event.instrument_id,
                event.calibration,
            )

    def evidence(
        self, quantity: AirQuantity, instruments: BenchInstruments, now: Moment
    ) -> AirEvidence:
        """Return the figure that counts now: the first fit one, else the least unfit."""
        found = [*self._live(quantity, instruments, now)]
        typed = self.typed(quantity, now)
        if typed is not None:
            found.append(typed)
        estimate = self._estimated(quantity)
        fit = (one for one in [*found, estimate] if not one.why_not(now.utc, self.limits))
        best = next(fit, None)
        if best is not None:
            return best
        return min(found, key=lambda one: one.u_now(now.utc, self.limits), default=estimate)

    def typed(self, quantity: AirQuantity, now: Moment) -> AirEvidence | None:
        """Return what a person typed last, as old as it is by the station's clock."""
        known, since = self.noted.get(quantity), self.noted_at.get(quantity)
        if known is None or since is None:
            return known
        return replace(known, at=now.utc - timedelta(seconds=now.seconds - since))

    def instrument_for(
        self, quantity: AirQuantity, instruments: BenchInstruments, now: Moment
    ) -> BenchInstrument | None:
        """Return the fit instrument that reads this now; ``None``: a person must type it."""
        for fitted in _fitted(quantity, instruments):
            value = fitted.good_value(now.seconds)
            if value is None or fitted.unfit(day_of(now.utc)):
                continue
            if plausible(quantity, value):
                return fitted
        return None

    def surroundings(self, instruments: BenchInstruments, now: Moment) -> Surroundings:
        """Return the air as everything is computed with it."""
        known = [self.evidence(quantity, instruments, now) for quantity in AirQuantity]
        values = [one.value for one in known]
        return Surroundings(*values, *(one.u_now(now.utc, self.limits) for one in known))

    def _live(
        self, quantity: AirQuantity, instruments: BenchInstruments, now: Moment
    ) -> Iterable[AirEvidence]:
        for fitted in _fitted(quantity, instruments):
            found = read_by(fitted, quantity, now)
            if found is not None:
                yield found

    def _estimated(self, quantity: AirQuantity) -> AirEvidence:
        air = self.estimate()
        match quantity:
            case AirQuantity.TEMPERATURE:
                return _set_up(quantity, air.temperature_k, max(SET_UP_K, air.u_temperature_k))
            case AirQuantity.PRESSURE if self.altitude_known:
                return AirEvidence(
                    quantity,
                    air.pressure_pa,
                    WEATHER_PA,
                    AirSource.ALTITUDE,
                    "altitude, ISO 2533, and the weather",
                )
            case AirQuantity.PRESSURE:
                return _set_up(quantity, air.pressure_pa, max(SET_UP_PA, air.u_pressure_pa))
            case AirQuantity.HUMIDITY:
                return _set_up(quantity, air.humidity, max(SET_UP_HUMIDITY, air.u_humidity))


def estimated(settings: Settings) -> Surroundings:
    """Return the set-up's air: barometer as entered, or by altitude (ISO 2533), or sea level."""
    barometer = settings.barometer_pa
    if barometer is None:
        barometer = pressure_at_altitude_pa(settings.altitude_m or 0.0)
    return Surroundings(settings.bench_temperature_k, barometer, USUAL_HUMIDITY)


def read_by(fitted: BenchInstrument, quantity: AirQuantity, now: Moment) -> AirEvidence | None:
    """Return what an instrument showed last, as old as it is; ``None``: nothing that can be."""
    sample = fitted.instrument.latest()
    if sample is None or not plausible(quantity, sample.value):
        return None
    step = fitted.resolution(USUAL_STEP[quantity])
    u = (fitted.registered.u_calibration**2 + step**2 / 12) ** 0.5
    return AirEvidence(
        quantity,
        sample.value,
        u,
        AirSource.INSTRUMENT,
        fitted.registered.title,
        now.utc - timedelta(seconds=max(0.0, now.seconds - sample.at)),
        "",
        fitted.id,
        calibration_of(fitted.registered),
        fitted.unfit(day_of(now.utc)),
    )


def surface_thermometer(instruments: BenchInstruments) -> BenchInstrument | None:
    """Return the thermometer that is put on the unit's body; ``None``: the bench has none."""
    thermometers = instruments.of(InstrumentRole.THERMOMETER)
    return next((one for one in thermometers if one.at_unit), None)


def _fitted(quantity: AirQuantity, instruments: BenchInstruments) -> tuple[BenchInstrument, ...]:
    return tuple(one for one in instruments.of(ROLE_OF[quantity]) if not one.at_unit)


def _set_up(quantity: AirQuantity, value: float, u: float) -> AirEvidence:
    return AirEvidence(quantity, value, u, AirSource.SET_UP, "set-up, not read")
