"""The air as everything sees it."""

import random
import statistics

import pytest

from benchstation.domain.surroundings import Surroundings
from benchstation.physics.air import air_density_kg_m3


def test_the_density_of_air_is_as_uncertain_as_what_it_is_made_of():
    air = Surroundings(294.15, 98_000.0, 0.45, 1.5, 1200.0, 0.2)
    chance = random.Random(1)
    found = [
        air_density_kg_m3(
            chance.gauss(air.temperature_k, air.u_temperature_k),
            chance.gauss(air.pressure_pa, air.u_pressure_pa),
            min(1.0, max(0.0, chance.gauss(air.humidity, air.u_humidity))),
        )
        for _ in range(4000)
    ]
    spread = statistics.stdev(found) / statistics.mean(found)
    assert air.u_density_rel() == pytest.approx(spread, rel=0.1)
