"""Live gas charge: when the valve was last at work, where it will settle, and the hold test."""

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from benchstation.bench.capture.quiet_readings import QuietReadings
from benchstation.bench.capture.tracing import last_samples
from benchstation.devices.instrument import Sample
from benchstation.domain.gas_charge import shared
from benchstation.metrology.standstill import Standstill, standstill
from benchstation.physics.leak import STEADY, Drift, Leak, closed_volume_leak
from benchstation.physics.settling import Settling, fit_settling

FloatArray = NDArray[np.float64]
FIT_EVERY_S = 0.5
MEAN_OVER_S = 1.0
LEAST_FITTED, LEAST_FITTED_LATER = 10, 60
SEEN_RISE, LEAST_KEPT = 0.05, 0.6
LATER_PARTS = (0.25, 0.5, 0.75)


class ChargePhase(StrEnum):
    """What the charge waits for."""

    FILLING = "filling"
    SETTLING = "settling"
    SETTLED = "settled"
    HOLDING = "holding"


@dataclass(frozen=True, slots=True)
class SettledCharge:
    """The mean gauge pressure now, and where it will come to rest, Pa."""

    gauge_pa: float
    settled_gauge_pa: float
    u_settled_pa: float
    raw: str
    dof_settled: float = math.inf
    shared: float = 0.0
    """How far its error and that of the unit's temperature go together."""


class Charging:
    """Judges the gauge's stream at the charge step; pure, fed with samples and times.

    ``scale_pa`` is the target's size: the valve counts as at work while the pressure rises faster
    than 1 % of it a second or falls faster than 6 %, which cooling gas does not do. ``settle_rate``
    in Pa/s is what a settled charge still may move by the fit.
    """

    def __init__(self, scale_pa: float, settle_rate_pa_s: float) -> None:
        self._scale = scale_pa
        self._rise = 0.01 * scale_pa
        self._fall = -0.06 * scale_pa
        self._settle_rate = settle_rate_pa_s
        self._band = max(0.002 * scale_pa, 500.0)
        self._times: list[float] = []
        self._values: list[float] = []
        self._quiet = QuietReadings()
        self._raw = ""
        self._resolution = 0.0
        self._fit: Settling | None = None
        self._fitted_at = -1e9
        self._hold_from: int | None = None
        self._hold_s = 0.0
        self._charge_seen = False
        self.drift = STEADY
        """What the unit's own way to the room's temperature does to the pressure."""
        self.fill_from_pa = self.fill_peak_pa = 0.0
        """Where the last fill began, and the most that it came to."""
        self.kept: float | None = None
        """The share of a fill's rise that stayed when it had settled, as far as one has."""
        self.rate_pa_s = 0.0
        """How fast the pressure rises now, over half a second."""
        self.filled_last = False
        """Gas came in since any went out: it is warm, and the pressure only falls from here."""
        self._filling = self._rested = False
        self.highest_pa = 0.0
        """The most that was shown; a gauge that was taken off since proves nothing."""
        self._captured_pa = self._apart_pa = math.inf
        self.left_captured = False
        """The pressure left what was captured since, or nobody saw what it did."""

    def captured(self, gauge_pa: float, apart_pa: float) -> None:
        """Follow from here on whether the pressure stays within ``apart_pa`` of what was captured.

        One that left and came back is another fill, whose gas nothing tells.
        """
        self._captured_pa, self._apart_pa, self.left_captured = gauge_pa, apart_pa, False

    def unseen(self) -> None:
        """Take note that readings are missing: what the pressure did meanwhile is not known."""
        self.interrupt()
        self.left_captured = math.isfinite(self._captured_pa)

    def take(self, sample: Sample) -> None:
        """Take one reading."""
        self._times.append(sample.at)
        self._values.append(sample.value)
        self.highest_pa = max(self.highest_pa, sample.value)
        if math.isfinite(self._captured_pa):
            self.left_captured |= abs(sample.value - self._captured_pa) > self._apart_pa
        self._raw = sample.raw.decode("ascii", "backslashreplace")
        self._resolution = sample.resolution or self._resolution
        n = len(self._times)
        # After a restart the gas may be in the unit already: no valve needs to be at work then.
        self._charge_seen |= sample.value > 0.5 * self._scale
        self._quiet.take(sample.at, sample.value)
        back = n - 1
        while back > 0 and self._times[n - 1] - self._times[back] < 0.5:
            back -= 1
        span = self._times[n - 1] - self._times[back]
        if span > 0.2:
            rate = self.rate_pa_s = (self._values[n - 1] - self._values[back]) / span
            self._note_fill(rate, self._values[back], sample.value)
            if rate > self._rise or rate < self._fall:
                self._quiet.clear()
                self._fit = None
                self._charge_seen = True
                self._hold_from = None
                self.filled_last = rate > 0

    def _note_fill(self, rate: float, before: float, now: float) -> None:
        """Take note of where a fill began and ended; one that had not settled yet goes on."""
        if rate <= self._rise:
            self._filling = False
            return
        if not self._filling and (
            (self._fit is not None and self._fit.certain) or not self.fill_peak_pa
        ):
            self.fill_from_pa, self.fill_peak_pa = max(0.0, before), now
        self._filling = True
        self.fill_peak_pa = max(self.fill_peak_pa, now)

    def tail(self, seconds: float) -> tuple[FloatArray, FloatArray]:
        """Return times and gauge pressures of the last ``seconds``."""
        return last_samples(self._times, self._values, seconds)

    def all(self) -> tuple[FloatArray, FloatArray]:
        """Return times and gauge pressures of the whole charge."""
        return np.asarray(self._times), np.asarray(self._values)

    def settling(self, now: float) -> Settling | None:
        """Return the fit since the valve was last at work, made anew twice a second."""
        if not self._charge_seen:
            return None
        if now - self._fitted_at >= FIT_EVERY_S:
            self._fitted_at = now
            self._fit = self._best_fit()
            rise = self.fill_peak_pa - self.fill_from_pa
            self._rested |= self._fit is not None and self._fit.certain
            if self._fit is not None and self._fit.certain and rise > SEEN_RISE * self._scale:
                kept = (self._fit.final_pa - self.fill_from_pa) / rise
                # Vented since, or filled so slowly that a part had cooled before: tells nothing.
                self.kept = kept if LEAST_KEPT <= kept <= 1.0 else self.kept
        return self._fit

    def _best_fit(self) -> Settling | None:
        """Fit all that is quiet, or if it follows no curve the later parts of it.

        A valve that is moved slowly leaves no jump to see, but a bend that no single approach to
        rest has; what came after the bend is told from on.
        """
        quiet = self._quiet
        if quiet.count < LEAST_FITTED:
            return None
        whole = self._fit_from(0)
        if whole.certain or whole.followed or self._hold_from is not None:
            return whole
        for part in LATER_PARTS:
            start = int(part * len(quiet))
            if (len(quiet) - start) * quiet.each >= LEAST_FITTED_LATER:
                fit = self._fit_from(start)
                if fit.certain:
                    quiet.drop(start)
                    return fit
        return whole

    def _fit_from(self, start: int) -> Settling:
        at, means, noise_pa = self._quiet.means(start)
        return fit_settling(
            at,
            means,
            self._band,
            resolution_pa=self._resolution,
            each=self._quiet.each,
            noise_pa=noise_pa,
            now_s=self._times[-1],
            drift_pa_s=self.drift.rate_pa_s,
            u_drift_pa_s=self.drift.u_pa_s,
        )

    def phase(self, now: float) -> ChargePhase:
        """Return what the charge waits for."""
        if self._hold_from is not None:
            return ChargePhase.HOLDING
        if not self._charge_seen or not self._quiet.count:
            return ChargePhase.FILLING
        fit = self.settling(now)
        if fit is None or not fit.certain:
            return ChargePhase.SETTLING
        # A leak does not slow down: the hold tells it, and there is nothing to wait for.
        cooling_pa_s = fit.rate_pa_s + fit.steady_pa_s
        slow = abs(cooling_pa_s) <= self._settle_rate
        # What is still to come so slowly is waited for only where it cannot be foretold.
        foretold = fit.u_final_pa <= max(self._band, 0.5 * self._resolution)
        if slow and (fit.remaining_s <= 0 or foretold):
            return ChargePhase.SETTLED
        return ChargePhase.SETTLING

    def settled(self, now: float) -> SettledCharge | None:
        """Return the settled charge, or ``None`` while it still moves or cannot be told."""
        fit = self.settling(now)
        if self.phase(now) not in (ChargePhase.SETTLED, ChargePhase.HOLDING):
            return None
        if fit is None or not fit.certain:
            return None
        mean = float(self.tail(MEAN_OVER_S)[1].mean())
        return SettledCharge(
            mean, fit.final_pa, fit.u_final_pa, self._raw, fit.dof, shared(self.drift)
        )

    def begin_hold(self, seconds: float) -> None:
        """Start the hold test now; the valve at work during it ends it without a result."""
        self._hold_from = len(self._times)
        self._hold_s = seconds

    def interrupt(self) -> None:
        """Begin anew after a gap: a hold test or a fit over it proves nothing."""
        self._hold_from = self._fit = None
        self._quiet.clear()

    @property
    def holding(self) -> bool:
        """Return True when a hold test runs."""
        return self._hold_from is not None

    @property
    def hold_left_s(self) -> float:
        """Return the seconds that the hold test still takes."""
        if self._hold_from is None or self._hold_from >= len(self._times):
            return self._hold_s
        return max(0.0, self._hold_s - (self._times[-1] - self._times[self._hold_from]))

    def hold_samples(self) -> tuple[FloatArray, FloatArray]:
        """Return times from 0 and gauge pressures of the hold test."""
        start = self._hold_from or 0
        t = np.asarray(self._times[start:])
        return t - t[:1], np.asarray(self._values[start:])

    def since_closed(self) -> tuple[FloatArray, FloatArray]:
        """Return times and gauge pressures since the valve was closed: what a leak rests on."""
        return last_samples(self._times, self._values, self._quiet.seconds)

    def standstill(self) -> Standstill:
        """Return the longest time in the hold test that no digit changed, and what that tells."""
        begin = len(self._times) if self._hold_from is None else self._hold_from
        return standstill(*self.all(), begin, self._resolution)

    def finish_hold(self, volume_m3: float, drift: Drift) -> Leak | None:
        """Return the leak when the hold's time is over, else ``None``.

        It rests on all readings since the valve was closed, so that the cooling of the gas, which
        began before the hold, is told from a leak (see :func:`closed_volume_leak`).
        """
        if self._hold_from is None or self.hold_left_s > 0:
            return None
        at, means, noise_pa = self._quiet.means()
        if len(at) < LEAST_FITTED:
            return None
        self._hold_from = None
        return closed_volume_leak(
            at, means, volume_m3, noise_pa=noise_pa, resolution_pa=self._resolution, drift=drift
        )
