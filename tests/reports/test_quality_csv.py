"""The table of a chart: SI, one row a point, and no cell that a table program would run."""

import csv

import pytest

from benchstation.domain.quality import Quantity, Scale, evaluate_units, rejudge
from benchstation.quantities.units import Dimension, UnitSystem
from benchstation.reports.quality_csv import write_units_csv
from benchstation.reports.quality_words import axis_of, capability_lines, chart_lines, yield_words
from tests.domain.test_quality import OIL, units


def rows_of(path):
    return list(csv.DictReader(path.read_text("utf-8").splitlines()))


@pytest.mark.parametrize("serial", ["=1+1", "+49", "-12", "@x", "MR-1"])
def test_no_cell_is_a_formula(tmp_path, serial):
    figures = units([1e-5, -1e-5, 2e-5])
    figures = [*figures[:2], type(figures[0])(**{**_fields(figures[2]), "serial": serial})]
    found = evaluate_units(figures, Quantity.OIL, Scale.SI)
    path = write_units_csv(tmp_path / "chart.csv", Quantity.OIL, figures, found, ())
    last = rows_of(path)[-1]["serial"]
    assert last == (serial if serial == "MR-1" else f"'{serial}")


def _fields(figure):
    return {name: getattr(figure, name) for name in figure.__dataclass_fields__}


def test_numbers_are_whole_and_negative_ones_stay_numbers(tmp_path):
    figures = units([-1.23456789e-5, 1e-5, 2e-5])
    found = evaluate_units(figures, Quantity.OIL, Scale.SI)
    others = rejudge(figures, Quantity.OIL, 1e-6)
    path = write_units_csv(tmp_path / "chart.csv", Quantity.OIL, figures, found, others)
    first = rows_of(path)[0]
    assert float(first["value [kg]"]) == figures[0].value
    assert first["filed_utc"] == "2026-03-02T08:00:00.000Z"
    assert {row["with_the_other_limit"] for row in rows_of(path)} == {"undecided"}


@pytest.mark.parametrize("system", UnitSystem)
def test_an_axis_has_the_digits_that_its_spread_leaves(system):
    axis = axis_of(Dimension.MASS, [1e-4, -2e-4], 3.21e-5, system)
    assert axis.number(3.21e-5) == ("0.032" if system is UnitSystem.METRIC else "0.0011")
    assert axis.signed(1e-4).startswith("+")
    assert axis.signed(0.0)[0] == "0"
    assert "−" in axis.signed(-2e-4)


def test_a_share_is_in_percent_and_a_leak_in_its_power_of_ten():
    assert axis_of(None, [0.5], 0.1, UnitSystem.METRIC).text(0.5) == "50 % of the tolerance"
    leak = axis_of(Dimension.LEAK, [3e-8, 2e-7], 1e-8, UnitSystem.METRIC)
    assert leak.text(2e-7) == "2.00 10⁻⁷ Pa m³/s"


def test_what_is_not_known_is_said():
    few = evaluate_units(units([1e-5]), Quantity.OIL, Scale.SI)
    axis = axis_of(Dimension.MASS, [1e-5], 1e-5, UnitSystem.METRIC)
    assert chart_lines(few, axis)[0][1:] == ("1", "it needs 3 values at least, and has 1")
    assert capability_lines(few, axis)[1] == (
        "Capability", "not known", "it needs three values that differ",
    )  # fmt: skip
    same = evaluate_units(units([1e-5] * 9), Quantity.OIL, Scale.SI)
    assert "all values are the same" in chart_lines(same, axis)[0][2]
    assert yield_words(0, 0) == "no units"
    assert OIL.deviation == 0.0
