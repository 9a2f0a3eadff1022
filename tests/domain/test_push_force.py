import math

import pytest

from benchstation.domain.events import ChargeCaptured, OilJudged
from benchstation.domain.push_force import push_force
from benchstation.domain.refusals import NotAllowedError
from benchstation.domain.signing import sign_step
from benchstation.domain.surroundings import Surroundings
from benchstation.physics.oil import Oil

AIR = Surroundings(293.15, 101_325.0, 0.45)
OIL = Oil(851.3)


def charged(settled=13e5, bench_k=293.15, volume=341e-6):
    return (
        OilJudged(
            "u1", "bleed", 0.29, 0.29, 0.0, 0.002, 2e-4, 4e-4, 2.0, "pass", 0.99, volume, {}, ()
        ),
        ChargeCaptured(
            "u1", "charge", "gauge-1", settled, settled, 13e5, 4e4, 5e3, 1e4, 2.0, "pass", 0.99,
            bench_k, 101_325.0, 1.25e-4, 2e-3, "00" * 32, "", {}, (),
        ),
    )  # fmt: skip


def test_the_push_force_is_gauge_pressure_on_the_rod(rear_at):
    """At the temperature and barometer of the charge: F = p_gauge * pi/4 * (14 mm)^2."""
    state = rear_at("push", *charged())
    volume = state.specification.geometry.model().gas_volume_m3(341e-6)
    assert volume == pytest.approx(1.25e-4, rel=0.01)
    found = push_force(state, OIL, AIR)
    gauge = found.gas_pa - found.ambient_pa
    assert found.force_n == pytest.approx(gauge * math.pi / 4 * 0.014**2, rel=1e-12)
    assert found.gas_pa == pytest.approx((13e5 + 101_325) * 1.25e-4 / volume, rel=1e-3)


def test_the_push_force_follows_charge_temperature_and_fill(rear_at):
    def force(air=AIR, **charge):
        return push_force(rear_at("push", *charged(**charge)), OIL, air).force_n

    plain = force()
    assert force(settled=14e5) > plain * 1.05
    assert force(air=Surroundings(303.15, 101_325.0, 0.45)) > plain * 1.03
    assert force(volume=343e-6) > plain
    assert force(air=Surroundings(293.15, 95_000.0, 0.45)) == pytest.approx(
        plain + 6325 * math.pi / 4 * 0.014**2
    )


def test_the_push_force_needs_a_charge(rear_at):
    state = rear_at("push")
    assert push_force(state, OIL, AIR) is None
    with pytest.raises(NotAllowedError, match="no charge on record"):
        sign_step(state, {"value1": "200 N"})
