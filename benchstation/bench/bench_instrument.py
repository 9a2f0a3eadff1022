"""An instrument fitted to the bench: its live side and what is on record of it."""

from dataclasses import dataclass
from datetime import date

from benchstation.devices.instrument import Instrument
from benchstation.domain.events import InstrumentChecked, InstrumentRegistered
from benchstation.driver_api.reading import Health


@dataclass(slots=True)
class BenchInstrument:
    """One instrument at its place."""

    instrument: Instrument
    registered: InstrumentRegistered
    checked: InstrumentChecked | None = None
    """The newest check on record, by whatever program it was made; ``None``: never checked."""

    def good_value(self, now: float) -> float | None:
        """Return the last value when it may be trusted now, else ``None``."""
        sample = self.instrument.latest()
        if sample is None or self.instrument.health(now).category is not Health.GOOD:
            return None
        return sample.value

    def resolution(self, otherwise: float) -> float:
        """Return the value of the last digit shown."""
        sample = self.instrument.latest()
        return (sample.resolution if sample else None) or otherwise

    def unfit(self, today: date) -> str:
        """Say why no quality result may be captured with it; empty: nothing against it."""
        until = self.registered.calibrated_until
        if not until:
            return f"{self.registered.title} has no calibration on record"
        if date.fromisoformat(until) < today:
            return f"{self.registered.title} is overdue for calibration since {until}"
        if self.checked is not None and not self.checked.passed:
            return f"{self.registered.title} failed its last check"
        return ""
