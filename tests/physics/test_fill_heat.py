"""The excess of a filling pressure against an integration of the energy balance with its mass."""

import pytest

from benchstation.physics.fill_heat import GAMMA, FillHeat

R, T0, V = 296.8, 293.15, 2e-4
CV = R / (GAMMA - 1.0)


@pytest.mark.parametrize("tau_s", [2.0, 6.0, 30.0])
@pytest.mark.parametrize("flow_kg_s", [2e-5, 2e-4])
def test_the_excess_is_that_of_the_balance_with_its_mass(tau_s, flow_kg_s):
    mass, temperature, dt = 1e5 * V / (R * T0), T0, 1e-3
    heat, before = FillHeat([tau_s]), mass * R * temperature / V
    for step in range(20_000):
        flow = flow_kg_s if step < 10_000 else 0.5 * flow_kg_s
        lost = mass * CV / tau_s * (temperature - T0)
        warmed = (flow * (CV + R) * T0 - flow * CV * temperature - lost) / (mass * CV)
        mass, temperature = mass + flow * dt, temperature + warmed * dt
        now = mass * R * temperature / V
        heat.moved(now - before, dt)
        before = now
    excess = mass * R * (temperature - T0) / V
    assert heat.least_fall_pa(1e9) == pytest.approx(excess, rel=0.01)


def test_the_least_of_all_time_constants_is_given_and_never_a_rise():
    heat = FillHeat()
    heat.moved(1e6, 1.0)
    assert 0.0 < heat.least_fall_pa(3.0) < heat.least_fall_pa(6.0) < 0.4e6
    heat = FillHeat()
    heat.moved(-1e6, 1.0)
    assert heat.least_fall_pa(3.0) == 0.0
