import numpy as np
import pytest

from benchstation.domain.budget_rows import Row
from benchstation.domain.oil_balance import Weighings
from benchstation.domain.surroundings import Surroundings
from benchstation.domain.weigh_in import (
    ScaleQuality,
    judge_oil,
    oil_budget,
    oil_target,
    watch_pour,
    weighing_u_kg,
)
from benchstation.metrology.conformity import Decision
from benchstation.metrology.window_scatter import Scatter
from benchstation.physics.oil import Oil
from benchstation.physics.oil_lot import hydrometer_lot

OIL = Oil(860.0, u_rel=5e-4)
COOL = Surroundings(283.15, 101_325.0)
WARM = Surroundings(303.15, 101_325.0)
SCALE = ScaleQuality(1e-4, 1e-4, 1e-4)


def test_the_oil_temperature_does_not_change_the_target_mass(spec):
    assert oil_target(spec, OIL, COOL).mass_kg == oil_target(spec, OIL, WARM).mass_kg


def test_as_poured_differs_by_the_known_percent_and_a_half_over_20_k(spec):
    """ASTM D1250-04: a lubricating oil of 860 kg/m3 expands by about 0.075 % per kelvin."""
    poured = spec.model_copy(update={"oil": spec.oil.model_copy(update={"basis": "as poured"})})
    cool, warm = oil_target(poured, OIL, COOL), oil_target(poured, OIL, WARM)
    assert cool.mass_kg / warm.mass_kg - 1 == pytest.approx(0.015, abs=0.001)


def test_buoyancy_takes_about_an_eighth_of_a_percent_off(spec):
    """Ignoring buoyancy reads oil of 860 kg/m3 0.125 % low (OIML D 28 formula, air 1.2 kg/m3)."""
    target = oil_target(spec, OIL, Surroundings(293.15, 101_325.0))
    assert 1 - target.net_shown_kg / target.mass_kg == pytest.approx(0.00125, abs=2e-5)


def test_the_terms_can_be_followed_by_hand(spec):
    target = oil_target(spec, OIL, WARM)
    assert target.mass_kg == pytest.approx(262e-6 * target.rho_kg_m3, rel=1e-12)
    poured = (262e-6 + 3.5e-6) * target.rho_kg_m3 * target.buoyancy
    assert target.pour_shown_kg == pytest.approx(poured, rel=1e-12)
    assert target.net_volume_ref_m3(target.net_shown_kg) == pytest.approx(262e-6, rel=1e-12)
    assert target.jug_volume_m3 > 262e-6
    assert target.as_poured_difference_kg > 0


@pytest.mark.parametrize(
    ("off_kg", "decision"),
    [
        (0.0, Decision.PASS),
        (0.0009, Decision.PASS),
        (0.0016, Decision.UNDECIDED),
        (-0.0018, Decision.UNDECIDED),
        (0.0026, Decision.FAIL),
    ],
)
def test_near_a_limit_nothing_is_proven(spec, off_kg, decision):
    target = oil_target(spec, OIL, COOL)
    budget = oil_budget(target, OIL, SCALE, weighings=2)
    assert judge_oil(target.net_shown_kg + off_kg, target, budget).decision is decision


def test_each_further_weighing_costs_certainty(spec):
    target = oil_target(spec, OIL, COOL)
    one = oil_budget(target, OIL, SCALE, weighings=1).combined()
    two = oil_budget(target, OIL, SCALE, weighings=2).combined()
    assert one < two < 2 * one


def test_a_difference_costs_four_displays_and_two_calibrations(spec):
    """Independent before and after, JCGM 100 5.1.2; the common part is not taken to cancel."""
    target = oil_target(spec, OIL, COOL)
    rows = {r.name: r for r in oil_budget(target, OIL, SCALE, weighings=Weighings(0, 1)).rows()}
    assert rows[Row.SCALE_RESOLUTION].sensitivity == pytest.approx(2.0)
    assert rows[Row.SCALE_REPEATABILITY].u_result == pytest.approx(2.0 * SCALE.repeatability_kg)
    assert rows[Row.SCALE_CALIBRATION].u_result == pytest.approx(2**0.5 * SCALE.u_calibration_kg)


def test_several_lots_have_a_line_each_by_their_share(spec):
    target = oil_target(spec, OIL, COOL)
    lots = {"A": (Oil(860.0, u_rel=3e-4), 0.25), "B": (Oil(862.0, u_rel=4e-4), 0.75)}
    budget = oil_budget(target, OIL, SCALE, weighings=2, lots=lots)
    rows = {r.name: r.u_result for r in budget.rows()}
    u_rel = lots["B"][0].u_rel_at(target.basis_k)
    assert rows["oil_density: B"] == pytest.approx(u_rel * 0.75 * target.net_shown_kg)
    assert Row.OIL_DENSITY not in rows


@pytest.mark.parametrize(("typed", "counts"), [(1e-5, None), (5e-4, 5e-4)])
def test_a_mass_by_hand_is_never_more_certain_than_this_scale(spec, typed, counts):
    target = oil_target(spec, OIL, COOL)
    budget = oil_budget(target, OIL, SCALE, weighings=Weighings(by_hand=(typed,)))
    rows = {r.name: r.u_result for r in budget.rows()}
    assert rows[Row.BY_HAND] == pytest.approx(counts or weighing_u_kg(SCALE))
    assert rows[Row.SCALE_REPEATABILITY] == 0


def test_what_masses_scatter_by_takes_the_place_of_half_a_digit(spec):
    """JCGM 100 G.4.1: u4 / sum(ui4 / vi) of 3e-4 with 9 and 4e-4 with 4 degrees of freedom."""
    target = oil_target(spec, OIL, COOL)
    repeated = (Scatter(3e-4, 9.0), Scatter(4e-4, 4.0))
    budget = oil_budget(target, OIL, SCALE, weighings=Weighings(2, repeated=repeated))
    row = {r.name: r for r in budget.rows()}[Row.SCALE_REPEATABILITY]
    assert row.u_result == pytest.approx(5e-4)
    assert row.dof == pytest.approx(5**4 / (3**4 / 9 + 4**4 / 4))


@pytest.mark.parametrize(("u", "counts"), [(1e-5, 2**0.5 * 1e-4), (5e-4, 5e-4), (None, None)])
def test_the_larger_of_study_and_windows_counts(u, counts):
    scatter = None if u is None else Scatter(u, 12.0)
    assert SCALE.repeated(scatter, 2).u == pytest.approx(counts or 2**0.5 * 1e-4)


def test_the_density_counts_at_the_temperature_of_the_volume(spec):
    """A density measured at 20 degC is as sure there, whatever the coefficient is."""
    lot = hydrometer_lot(857.0, 293.15, 0.3, 0.0)
    target = oil_target(spec, lot.oil, COOL)
    rows = {r.name: r for r in oil_budget(target, lot.oil, SCALE, weighings=1).rows()}
    assert rows[Row.OIL_DENSITY].u == pytest.approx(0.3 / 857.0, rel=1e-6)
    assert lot.oil.u_rel > 0.3 / 857.0


def test_a_volume_as_poured_is_as_sure_as_the_temperature_of_the_oil(spec):
    """0.5 K at 0.075 % per kelvin of 225 g are 0.08 g."""
    poured = spec.model_copy(update={"oil": spec.oil.model_copy(update={"basis": "as poured"})})
    target = oil_target(poured, OIL, COOL)
    rows = {
        r.name: r.u_result
        for r in oil_budget(target, OIL, SCALE, weighings=1, u_temperature_k=0.5).rows()
    }
    assert rows[Row.OIL_TEMPERATURE] == pytest.approx(8.3e-5, rel=0.03)


def test_shown_mass_and_volume_are_each_others_inverse(spec):
    target = oil_target(spec, OIL, WARM)
    assert target.net_volume_ref_m3(target.shown_kg(1e-4)) == pytest.approx(1e-4, rel=1e-12)
    assert target.shown_kg(262e-6) == pytest.approx(target.net_shown_kg, rel=1e-12)


def test_a_steady_pour_lands_its_flow_times_the_delay_later():
    at = np.linspace(0.0, 1.0, 11)
    pour = watch_pour(at, 0.1 + 0.006 * at, 0.2, response_s=0.5)
    assert pour.flow_kg_s == pytest.approx(0.006)
    assert pour.landing_kg == pytest.approx(0.109)
    assert pour.seconds_to_target == pytest.approx((0.2 - 0.109) / 0.006)


@pytest.mark.parametrize("count", [0, 1, 2])
def test_too_few_samples_show_no_flow(count):
    at = np.linspace(0.0, 0.1, count) if count else np.empty(0)
    pour = watch_pour(at, np.full(count, 0.05), 0.2, response_s=0.5)
    assert pour.flow_kg_s == 0
    assert pour.seconds_to_target is None


@pytest.mark.parametrize("temperature_k", [253.0, 333.0])
@pytest.mark.parametrize("pressure_pa", [50e3, 110e3])
def test_air_that_a_bench_may_have_has_a_target(spec, temperature_k, pressure_pa):
    target = oil_target(spec, OIL, Surroundings(temperature_k, pressure_pa))
    assert target.buoyancy == pytest.approx(0.9988, abs=1e-3)
