"""Permissible errors of weights against OIML R 111-1:2004, table 1, and which weight suits."""

from itertools import pairwise

import pytest

from benchstation.metrology.check_weights import CLASSES, permissible_error, suits

TABLE = {
    # Read in a public transcription of OIML R 111-1:2004, table 1; mg, E1 to M3.
    0.001: (0.010, 0.03, 0.10, 0.3, 1.0, 3.0, 10),
    0.002: (0.012, 0.04, 0.12, 0.4, 1.2, 4.0, 12),
    0.005: (0.016, 0.05, 0.16, 0.5, 1.6, 5.0, 16),
    0.010: (0.020, 0.06, 0.20, 0.6, 2.0, 6.0, 20),
    0.020: (0.025, 0.08, 0.25, 0.8, 2.5, 8.0, 25),
    0.050: (0.03, 0.10, 0.3, 1.0, 3.0, 10, 30),
    0.100: (0.05, 0.16, 0.5, 1.6, 5.0, 16, 50),
    # From memory of the same table.
    0.2: (0.10, 0.3, 1.0, 3.0, 10, 30, 100),
    1.0: (0.5, 1.6, 5.0, 16, 50, 160, 500),
    5.0: (2.5, 8.0, 25, 80, 250, 800, 2500),
    20.0: (10, 30, 100, 300, 1000, 3000, 10000),
}


@pytest.mark.parametrize(("nominal_kg", "errors_mg"), TABLE.items())
def test_each_class_of_a_nominal_mass(nominal_kg, errors_mg):
    found = [permissible_error(nominal_kg, name) for name in CLASSES]
    assert found == pytest.approx([mg * 1e-6 for mg in errors_mg])


def test_larger_classes_and_masses_err_more():
    for name, coarser in pairwise(CLASSES):
        assert permissible_error(0.5, name) < permissible_error(0.5, coarser)
        assert permissible_error(0.2, name) < permissible_error(0.5, name)


@pytest.mark.parametrize(
    ("nominal_kg", "name"), [(0.4136, "F2"), (0.2, "X"), (0.2, ""), (0.0, "F2"), (-0.2, "F2")]
)
def test_there_is_no_such_weight(nominal_kg, name):
    assert permissible_error(nominal_kg, name) is None


def test_a_weight_suits_whose_error_is_a_third_of_the_limit_at_most():
    assert suits(30e-6, 90e-6)
    assert not suits(31e-6, 90e-6)
