"""Permissible errors of scales against the published tables of OIML R 76-1."""

import math
import re

import pytest

from benchstation.metrology.errors import MetrologyError
from benchstation.metrology.scale_rules import (
    IN_SERVICE,
    AccuracyClass,
    error_before_rounding,
    permissible_error,
)
from tests.reference_rows import assert_agrees, row, rows

FILE = "scale_rules.csv"


@pytest.mark.parametrize("reference", rows(FILE, quantity="MPE_initial_verification"), ids=str)
def test_each_band_of_the_table(reference):
    accuracy = AccuracyClass(reference["accuracy_class"])
    over = reference.number("load_in_e_over")
    up_to = float(reference["load_in_e_up_to"] or 10 * over)
    for load in (over + 0.5, 0.5 * (over + up_to), up_to):
        assert_agrees(reference, permissible_error(load, 1.0, accuracy))


@pytest.mark.parametrize("reference", rows(FILE, quantity="MPE_at_load"), ids=str)
def test_at_a_load(reference):
    load = reference.number("load_in_e_over")
    found = permissible_error(load, 1.0, AccuracyClass(reference["accuracy_class"]))
    assert found == reference.number()


@pytest.mark.parametrize("reference", rows(FILE, quantity="MPE_in_mass_units"), ids=str)
def test_in_mass(reference):
    step, load = (float(v) for v in re.findall(r"[\d.]+", reference["note"]))
    found = permissible_error(load, step, AccuracyClass(reference["accuracy_class"]))
    assert_agrees(reference, found)


def test_in_service_twice():
    assert row(FILE, quantity="MPE_in_service_factor").number() == IN_SERVICE
    assert permissible_error(600, 1.0, AccuracyClass.MEDIUM, in_service=True) == 2.0


@pytest.mark.parametrize("reference", rows(FILE, quantity="rounding_free_error"), ids=str)
def test_error_before_rounding(reference):
    given = dict(re.findall(r"(\w+)=([\d.]+)", reference["note"]))
    found = error_before_rounding(
        float(given["I"]), float(given["dL"]), float(given["L"]), float(given["e"])
    )
    assert_agrees(reference, found)


def test_a_whole_number_of_intervals_is_not_pushed_over_the_edge():
    """50.0 g is 500 intervals of 0.1 g exactly, whatever floating point makes of it."""
    assert permissible_error(0.05, 0.0001, AccuracyClass.MEDIUM) == pytest.approx(0.00005)


@pytest.mark.parametrize(
    ("load", "interval", "accuracy"),
    [
        (10_001, 1.0, AccuracyClass.MEDIUM),
        (1_001, 1.0, AccuracyClass.ORDINARY),
        (-1.0, 1.0, AccuracyClass.HIGH),
        (1.0, 0.0, AccuracyClass.HIGH),
        (math.nan, 1.0, AccuracyClass.HIGH),
    ],
)
def test_beyond_the_table_is_refused(load, interval, accuracy):
    with pytest.raises(MetrologyError):
        permissible_error(load, interval, accuracy)
