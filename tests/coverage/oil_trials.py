"""Whole weighings of oil by Monte Carlo (JCGM 101:2008), through the program's own functions.

The truth is drawn first: the oil's density, the scale's adjustment, the air, where the tare stood,
what was poured. A virtual scale then shows it, the program weighs, budgets and judges, and what it
states is compared with what was drawn.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from importlib.resources import files

import numpy as np

from benchstation.bench.capture.weighing import Weighing, WeighPlan
from benchstation.devices.instrument import Sample
from benchstation.domain.events import MassCaptured, RepeatabilityMeasured
from benchstation.domain.oil_balance import weighings_of
from benchstation.domain.specification import specification_from_toml
from benchstation.domain.surroundings import Surroundings
from benchstation.domain.weigh_in import judge_oil, oil_budget, oil_target, quality_of
from benchstation.metrology.conformity import Decision
from benchstation.physics.air import buoyancy_factor
from benchstation.physics.oil import Oil
from benchstation.physics.oil_lot import certificate_lot
from tests.coverage.trial import Trial

FRONT = files("resources") / "demo" / "specifications" / "mr-46-front.toml"
SPECIFICATION = specification_from_toml(FRONT.read_text("utf-8"))
LOT = certificate_lot(851.0, 0.3)
AIR = Surroundings(295.15, 100_900.0, 0.5, 0.3, 60.0, 0.1)
RATE_HZ, STEP_KG, U_SCALE_KG = 10.0, 1e-5, 5e-5
POUR_KG_S = 0.03
STUDIED_TIMES = 10


@dataclass(frozen=True, slots=True)
class OilScene:
    """A scale: noise of its display, kg, behind a filter of so many s; where its tare stands.

    ``tare_share`` is of the zero band: the tare is left anywhere within it. ``white``: the noise
    comes after the filter. ``studied``: its repeatability study is on record.
    """

    noise_kg: float
    filter_s: float
    tare_share: float = 0.0
    white: bool = False
    studied: bool = False

    def __str__(self) -> str:
        """Return its line of the table."""
        kind = "white" if self.white else "filtered"
        study = ", studied" if self.studied else ""
        return (
            f"oil: {self.noise_kg * 1e6:2.0f} mg {kind}, {self.filter_s} s, "
            f"tare {self.tare_share:.0%} of the band{study}"
        )


class _Scale:
    """Shows a load through a filter, with noise of a given deviation, in digits."""

    def __init__(self, scene: OilScene, chance: np.random.Generator) -> None:
        self._keep = math.exp(-1.0 / RATE_HZ / scene.filter_s)
        self._share = 0.0 if scene.white else self._keep
        self._scene, self._chance = scene, chance
        self._shown = self._zero = 0.0
        self._noise = scene.noise_kg * chance.normal()

    def tare(self, off_kg: float) -> None:
        self._zero = self._shown - off_kg

    def show(self, load_kg: float) -> float:
        self._shown += (load_kg - self._shown) * (1.0 - self._keep)
        new = math.sqrt(1.0 - self._share**2) * self._scene.noise_kg * self._chance.normal()
        self._noise = self._share * self._noise + new
        return round((self._shown - self._zero + self._noise) / STEP_KG) * STEP_KG


def _study(scene: OilScene, chance: np.random.Generator) -> RepeatabilityMeasured | None:
    """Return the study of such a scale: a weight on and off it, the mean of a window each time."""
    if not scene.studied:
        return None
    scale, means = _Scale(replace(scene, tare_share=0.0), chance), []
    for n in range(2 * STUDIED_TIMES):
        load = 0.2 * (n % 2)
        for _ in range(int(RATE_HZ * 10 * scene.filter_s)):
            scale.show(load)
        means.append(np.mean([scale.show(load) for _ in range(15)]))
    empty, loaded = means[::2], means[1::2]
    std = float(np.std(np.subtract(loaded, empty), ddof=1))
    made = (tuple(empty), tuple(loaded))
    return RepeatabilityMeasured("scale", 0.2, *made, std, STUDIED_TIMES - 1, STEP_KG, "")


def _weighed(
    scene: OilScene, shown_kg: float, chance: np.random.Generator
) -> tuple[Weighing, float, int]:
    """Weigh so much oil into a body; return the weighing with the net mass and its readings."""
    steadiness = SPECIFICATION.steadiness
    weighing = Weighing(
        steadiness, longest_gap_s=0.35, plan=WeighPlan(lot="L"), filter_s=scene.filter_s
    )
    scale, clock = _Scale(scene, chance), iter(np.arange(0.0, 1e4, 1.0 / RATE_HZ).tolist())

    def shown(load: float) -> Iterator[float]:
        while True:
            now, value = next(clock), scale.show(load)
            weighing.take(Sample(value, now, None, STEP_KG, "kg", b"%.5f %.1f" % (value, now)))
            yield now

    for _ in range(int(RATE_HZ * 16 * scene.filter_s)):
        scale.show(0.9)
    weighing.begin_tare(next(clock))
    while not weighing.tared:
        for now in shown(0.9):
            if weighing.tare_due(now):
                scale.tare(scene.tare_share * steadiness.tare_band * chance.uniform(-1.0, 1.0))
            if weighing.tare_result(now) is not None:
                break
        if not weighing.tared:
            weighing.begin_tare(now)
    poured = 0.0
    while poured < shown_kg:
        poured = min(shown_kg, poured + POUR_KG_S / RATE_HZ)
        next(shown(0.9 + poured))
    waited = int(RATE_HZ * (1.0 + 9 * scene.filter_s))
    stream = shown(0.9 + shown_kg)
    for _ in range(waited):
        now = next(stream)
    weighing.begin_capture()
    while (mass := weighing.captured(now)) is None:
        now = next(stream)
    return weighing, weighing.poured_kg(mass.mean_kg), mass.count


def oil_trial(scene: OilScene, seed: int) -> Trial:
    """Draw a truth, weigh it, and return what was stated beside it; masses as shown, kg."""
    chance = np.random.default_rng(seed)
    truly = Oil(
        LOT.oil.rho15_kg_m3 * (1 + LOT.oil.u_rel * chance.normal()),
        LOT.oil.alpha15_per_k + LOT.oil.u_alpha15_per_k * chance.normal(),
    )
    air = Surroundings(
        AIR.temperature_k + AIR.u_temperature_k * chance.normal(),
        AIR.pressure_pa + AIR.u_pressure_pa * chance.normal(),
        AIR.humidity + AIR.u_humidity * chance.normal(),
    )
    target = oil_target(SPECIFICATION, LOT.oil, AIR)
    fill = SPECIFICATION.oil
    volume_m3 = fill.volume + 1.5 * fill.tolerance * chance.uniform(-1.0, 1.0)
    mass_kg = volume_m3 * truly.density(fill.reference_temperature)
    lift = buoyancy_factor(truly.density(air.temperature_k), air.air_density_kg_m3())
    weighing, net_kg, count = _weighed(scene, mass_kg * lift, chance)
    net_kg += U_SCALE_KG * chance.normal()
    quality = quality_of(STEP_KG, U_SCALE_KG, _study(scene, chance))
    repeated = quality.repeated(weighing.scatter(count), 2)
    captured = MassCaptured(
        "u", "oil", "pour", "scale", net_kg, 0.0, count, STEP_KG, "", "",
        oil_lot="L", portion=1, zero_kg=weighing.zero_kg,
        u_repeated_kg=repeated.u, dof_repeated=repeated.dof,
    )  # fmt: skip
    budget = oil_budget(
        target,
        LOT.oil,
        quality,
        weighings=weighings_of([captured]),
        u_air_rel=AIR.u_density_rel(),
    )
    decision = judge_oil(net_kg, target, budget).decision
    true_kg = (volume_m3 - fill.volume) * target.rho_kg_m3 * target.buoyancy
    return Trial(
        net_kg - target.net_shown_kg - true_kg,
        budget.expanded().value,
        budget.combined(),
        decision,
        abs(volume_m3 - fill.volume) <= fill.tolerance,
    )


__all__ = ["Decision", "OilScene", "oil_trial"]
