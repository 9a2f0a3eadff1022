"""The instruments fitted to the bench: the live side of each and what is on record of it."""

from collections.abc import Collection, Iterator
from dataclasses import dataclass, field, replace
from datetime import date
from itertools import chain

from benchstation.devices.instrument import Instrument
from benchstation.domain.events import (
    InstrumentChecked,
    InstrumentRegistered,
    RepeatabilityMeasured,
    ScaleResponded,
)
from benchstation.domain.instrument_roles import InstrumentRole, on_unit
from benchstation.domain.pour_delay import response_s
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.domain.virtual_words import no_device_words
from benchstation.driver_api.reading import Health
from benchstation.metrology.step_response import StepWatch

_ROLES = {role.value: role for role in InstrumentRole}


@dataclass(slots=True)
class BenchInstrument:
    """One instrument at its place."""

    instrument: Instrument
    registered: InstrumentRegistered
    checked: InstrumentChecked | None = None
    """The newest check on record, by whatever program it was made; ``None``: never checked."""
    checked_on: date | None = None
    """The day of that check, UTC."""
    checked_daily: bool = False
    """Whether a result needs a check of the same day."""
    zero_proof: tuple[float, float] | None = None
    """When its pan was last shown to be empty, station clock in s, and what it showed then, kg."""
    repeatability: RepeatabilityMeasured | None = None
    """Of a scale: the newest repeatability study on record; ``None``: there is none."""
    responded: ScaleResponded | None = None
    """Of a scale: how far it was found to lag behind the hand; ``None``: not seen yet."""
    steps: StepWatch = field(default_factory=StepWatch)
    """Of a scale: the lag that loads show which were set on since the start."""
    virtual: str = ""
    """The code of what speaks in its place; empty: nothing says that it is no device."""
    barred: bool = False
    """Whether nothing may be captured with it for that: this is a real bench."""
    use: str = ""
    """What it is for, where the bench has several of its role."""

    @property
    def id(self) -> str:
        """Its name in the records."""
        return self.registered.instrument_id

    @property
    def role(self) -> InstrumentRole:
        """Return what it is at the bench."""
        return _ROLES[self.registered.role]

    @property
    def at_unit(self) -> bool:
        """Return True for a thermometer whose use says that it is put on the unit's body."""
        return self.role is InstrumentRole.THERMOMETER and on_unit(self.use)

    @property
    def response_s(self) -> float:
        """Return how far the display lags behind the hand that pours, s."""
        return response_s(None, ()) if self.responded is None else self.responded.response_s

    @property
    def filter_s(self) -> float:
        """Return the lag of the scale itself, s; 0 where it is not known."""
        seen = self.steps.delay_s
        if seen is None and self.responded is not None:
            seen = self.responded.step_s
        return seen or 0.0

    def good_value(self, now: float) -> float | None:
        """Return the last value when it may be trusted now, else ``None``."""
        if self.barred:
            return None
        sample = self.instrument.latest()
        if sample is None or self.instrument.health(now).category is not Health.GOOD:
            return None
        return sample.value

    def resolution(self, otherwise: float) -> float:
        """Return the value of the last digit shown."""
        sample = self.instrument.latest()
        return (sample.resolution if sample else None) or otherwise

    def unfit(self, today: date) -> str:
        """Return why no quality result may be captured with it; empty: nothing against it."""
        if self.barred:
            return f"{self.registered.title} is no instrument but {no_device_words(self.virtual)}"
        until = self.registered.calibrated_until
        if not until:
            return f"{self.registered.title} has no calibration on record"
        if date.fromisoformat(until) < today:
            return f"{self.registered.title} is overdue for calibration since {until}"
        if self.checked is not None and not self.checked.passed:
            return f"{self.registered.title} failed its last check"
        if self.checked_daily and self.checked_on != today:
            return f"{self.registered.title} has not been checked today"
        return ""


@dataclass(frozen=True, slots=True)
class BenchInstruments:
    """All instruments of a bench: scales, then gauges, then the others."""

    fitted: tuple[BenchInstrument, ...]
    path: tuple[str, ...] = ()
    """Ids of the gauges in the pressure path, that in the fill line first; empty: every gauge."""
    gauges_in_path: tuple[BenchInstrument, ...] = field(init=False, repr=False, compare=False)
    """The gauges that the guard judges, that in the fill line first."""
    _by_role: dict[str, tuple[BenchInstrument, ...]] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Sort them once: every reading looks for the gauge and the scale."""
        by_role = {
            role: tuple(one for one in self.fitted if one.registered.role == role)
            for role in (role.value for role in InstrumentRole)
        }
        gauges = {one.id: one for one in by_role[InstrumentRole.GAUGE]}
        path = tuple(gauges[name] for name in self.path) or tuple(gauges.values())
        object.__setattr__(self, "_by_role", by_role)
        object.__setattr__(self, "gauges_in_path", path)

    def __iter__(self) -> Iterator[BenchInstrument]:
        return chain.from_iterable(self._by_role.values())

    def of(self, role: InstrumentRole) -> tuple[BenchInstrument, ...]:
        """Return the instruments of a role, in the order of the settings."""
        return self._by_role[role]

    def named(self, instrument_id: str) -> BenchInstrument:
        """Return the instrument of this id. Raises :class:`NotAllowedError`."""
        for one in self.fitted:
            if one.id == instrument_id:
                return one
        raise NotAllowedError(f"there is no instrument '{instrument_id}' on this bench.")

    def check_daily(self, roles: Collection[str]) -> None:
        """Ask the instruments of these roles for a check of the day before a result, no others."""
        for one in self.fitted:
            one.checked_daily = one.role in roles

    def with_instrument(self, new: BenchInstrument, instead_of: str = "") -> "BenchInstruments":
        """Return them with a new one in place of the one of that id, or beside the others.

        A gauge that is added comes last into the pressure path, as it does in the settings.
        """
        fitted = tuple(new if old.id == instead_of else old for old in self.fitted)
        path = tuple(new.id if g.id == instead_of else g.id for g in self.gauges_in_path)
        if not instead_of:
            fitted += (new,)
            path += (new.id,) * (new.role is InstrumentRole.GAUGE)
        return replace(self, fitted=fitted, path=path)
