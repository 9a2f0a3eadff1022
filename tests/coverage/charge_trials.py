"""Whole gas charges by Monte Carlo (JCGM 101:2008), through the program's own functions.

Drawn first: how much gas is in, how far the unit is off the room and how fast it follows, how the
gas cools, the thermometers', barometer's and gauge's errors, what the tube does. The program sees
the gauge's readings and what the thermometers said, and states a charge.
"""

import math
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cache

import numpy as np

from benchstation.bench.capture.charging import ChargePhase, Charging
from benchstation.devices.instrument import Sample
from benchstation.domain.body_temperature import BodyTemperature, measured, time_constant_of
from benchstation.domain.gas_charge import (
    GaugeQuality,
    charge_budget,
    hold_drift,
    judge_charge,
    target_for,
)
from benchstation.domain.surroundings import Surroundings
from benchstation.domain.unit_temperature import around_unit
from benchstation.physics.oil import Oil
from tests.coverage.oil_trials import SPECIFICATION
from tests.coverage.trial import Trial

OIL = Oil(851.0)
GAS, BODY = SPECIFICATION.gas, time_constant_of(SPECIFICATION)
AIR = Surroundings(294.15, 100_900.0, 0.5, 0.3, 60.0, 0.1)
NOW = datetime(2026, 3, 2, 9, tzinfo=UTC)
RATE_HZ, U_GAUGE_PA, U_THERMOMETER_K, TOUCHED_S = 10.0, 1000.0, 0.2, 300.0
DRIFT_S, LOOK_EVERY_S, LONGEST_S = 2.0, 2.0, 600.0
ROOM_K_S = 2.0 / 3600.0
PER_TUBE = (0.0, 6.9e-5)


@dataclass(frozen=True, slots=True)
class ChargeScene:
    """How far a unit is off the room, how its gas cools, and the gauge's noise, step and filter.

    ``slow`` is the share of the fall that comes slowly and its time constant in s; ``drifts``: the
    room moves by up to 2 K/h.
    """

    offset_k: float = 0.0
    slow: tuple[float, float] = (0.0, 100.0)
    noise_pa: float = 150.0
    step_pa: float = 100.0
    filter_s: float = 0.0
    drifts: bool = False

    def __str__(self) -> str:
        """Return its line of the table."""
        share, tau = self.slow
        slow = f"{share:.0%} of {tau:.0f} s" if share else "one rate"
        room = ", room drifts" if self.drifts else ""
        return (
            f"charge: unit {self.offset_k:+.0f} K, {slow}, {self.noise_pa:.0f} Pa, "
            f"digit {self.step_pa:.0f} Pa, {self.filter_s} s{room}"
        )


@cache
def _target(temperature_k: float, ambient_pa: float):
    around = Surroundings(temperature_k, ambient_pa)
    return target_for(SPECIFICATION, OIL, SPECIFICATION.oil.volume, around)


@cache
def _curve(ambient_pa: float):
    """Return unit temperatures and target pressures there, for interpolation."""
    at = np.linspace(AIR.temperature_k - 25.0, AIR.temperature_k + 25.0, 51)
    return at, np.array([_target(float(k), ambient_pa).target_gauge_pa for k in at])


@dataclass(frozen=True, slots=True)
class _Truth:
    """What is so: the room and the unit over time, and what the gauge would show without noise."""

    room_k: float
    room_k_s: float
    offset_k: float
    tau_s: float
    dev_pa: float
    tube_per_k: float
    ambient_pa: float
    falls: tuple[tuple[float, float], ...]

    def unit_k(self, t):
        """Return the unit's temperature at seconds from the closing of the valve."""
        # A body behind a room that drifts lags by its time constant.
        fading = np.exp(-np.asarray(t) / self.tau_s)
        behind = self.room_k_s * (np.asarray(t) - self.tau_s * (1 - fading))
        return self.room_k + behind + self.offset_k * fading

    def at_rest_pa(self, t):
        """Return the gauge pressure of the unit as it is then, gas as warm as the body."""
        kelvin = self.unit_k(t)
        pressure = np.interp(kelvin, *_curve(AIR.pressure_pa)) + AIR.pressure_pa - self.ambient_pa
        reference = _target(AIR.temperature_k, AIR.pressure_pa)
        room = reference.gas_volume_ref_m3 + SPECIFICATION.oil.volume
        grown = self.tube_per_k * (kelvin - reference.reference_k) * room
        return pressure - pressure * grown / reference.gas_volume_m3 + self.dev_pa

    def shown_pa(self, t):
        cooling = sum(a * np.exp(-t / tau) for a, tau in self.falls)
        return self.at_rest_pa(t) + cooling


def _drawn(scene: ChargeScene, chance: np.random.Generator) -> _Truth:
    share, slow_s = scene.slow
    fall, fast_s = chance.uniform(0.8e5, 1.8e5), chance.uniform(5.0, 10.0)
    falls = [((1 - share) * fall, fast_s)] + ([(share * fall, slow_s)] if share else [])
    return _Truth(
        AIR.temperature_k + AIR.u_temperature_k * chance.normal(),
        ROOM_K_S * chance.uniform(-1.0, 1.0) if scene.drifts else 0.0,
        scene.offset_k,
        BODY.tau_s * math.exp(BODY.u_rel * chance.normal()),
        1.4 * GAS.tolerance * chance.uniform(-1.0, 1.0),
        chance.uniform(*PER_TUBE),
        AIR.pressure_pa + AIR.u_pressure_pa * chance.normal(),
        tuple(falls),
    )


def _felt(truth: _Truth, scene: ChargeScene, t: float, seen_k: float) -> BodyTemperature:
    """Return the unit's temperature at ``t`` as the program knows it from a touch before."""
    at, now = NOW - timedelta(seconds=TOUCHED_S), NOW + timedelta(seconds=t)
    drift = ROOM_K_S if scene.drifts else 0.0
    return measured(seen_k, U_THERMOMETER_K, at, now, air=AIR, body=BODY, drift_k_s=drift)


def charge_trial(scene: ChargeScene, seed: int) -> Trial:
    """Draw a truth, charge, and return what was stated beside it, Pa."""
    chance = np.random.default_rng(seed)
    truth = _drawn(scene, chance)
    then = float(truth.unit_k(-TOUCHED_S)) - truth.room_k
    seen_k = truth.room_k + then * (1 - 0.05 * chance.normal()) + U_THERMOMETER_K * chance.normal()
    charging = Charging(
        _target(AIR.temperature_k, AIR.pressure_pa).target_gauge_pa, GAS.settle_rate
    )
    keep = math.exp(-1.0 / RATE_HZ / scene.filter_s) if scene.filter_s else 0.0
    noise, error = scene.noise_pa * chance.normal(), U_GAUGE_PA * chance.normal()
    full = float(truth.shown_pa(0.0))
    for n in range(int(-6 * RATE_HZ), int(LONGEST_S * RATE_HZ)):
        t = n / RATE_HZ
        new = math.sqrt(1 - keep**2) * scene.noise_pa * chance.normal()
        noise = keep * noise + new
        pressure = float(truth.shown_pa(t)) if t >= 0 else full * max(0.0, t + 5) / 5
        shown = round((pressure + error + noise) / scene.step_pa) * scene.step_pa
        charging.take(Sample(shown, t, None, scene.step_pa, "bar", b"x"))
        if t < 20 or n % int(LOOK_EVERY_S * RATE_HZ):
            continue
        body = _felt(truth, scene, t, seen_k)
        around = around_unit(body, AIR)
        target = target_for(SPECIFICATION, OIL, SPECIFICATION.oil.volume, around)
        charging.drift = hold_drift(target, body, DRIFT_S)
        if charging.phase(t) is ChargePhase.SETTLED:
            break
    else:
        raise AssertionError(f"{scene}: not settled within {LONGEST_S} s")
    settled = charging.settled(t)
    assert settled is not None
    budget = charge_budget(
        target,
        GaugeQuality(scene.step_pa, U_GAUGE_PA),
        u_settling_pa=settled.u_settled_pa,
        u_temperature_k=around.u_temperature_k,
        u_barometer_pa=around.u_pressure_pa,
        settling_dof=settled.dof_settled,
        shared=settled.shared,
    )
    judged = judge_charge(settled.settled_gauge_pa, target, GAS.tolerance, budget)
    stated = settled.settled_gauge_pa - target.target_gauge_pa
    return Trial(
        stated - truth.dev_pa,
        budget.expanded().value,
        budget.combined(),
        judged.decision,
        abs(truth.dev_pa) <= GAS.tolerance,
        t,
    )


__all__ = ["ChargeScene", "charge_trial"]
