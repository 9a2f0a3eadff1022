"""The table a person reads: every figure follows from the ones beside it."""

import pytest

from benchstation.metrology.budget_table import HEADINGS, budget_text, table_rows
from benchstation.metrology.calibration import LinearCalibration
from benchstation.metrology.net_mass import net_budget
from benchstation.metrology.uncertainty import Budget, normal, rectangular, repeated


@pytest.fixture
def budget():
    return Budget(
        (
            normal("certificate", 0.5, 2.0),
            rectangular("drift", 0.3, sensitivity=-2.0, dof=50),
            repeated("readings", 0.6, 9),
        )
    )


def test_every_figure_follows_from_those_beside_it(budget):
    for row in table_rows(budget):
        if row.stated:
            stated = float(row.stated.removeprefix("±"))
            assert float(row.u) == pytest.approx(stated / float(row.divisor), rel=1e-3)
        assert float(row.part) == pytest.approx(
            abs(float(row.u) * float(row.sensitivity)), rel=1e-3
        )


def test_squares_of_the_parts_add_up(budget):
    total = sum(float(row.part) ** 2 for row in table_rows(budget))
    assert total == pytest.approx(budget.combined() ** 2, rel=1e-3)


def test_shares_with_correlated_parts_add_up():
    calibration = LinearCalibration(u_offset=0.1, u_gain=0.05)
    budget = net_budget(1.2, 0.8, calibration, step=0.1, repeatability=0.02)
    rows = table_rows(budget)
    assert sum(float(row.share.rstrip("%")) for row in rows) == pytest.approx(100.0, abs=0.3)
    pair = rows[-1]
    assert pair.name.startswith("calibration, gross with calibration, tare, r = 0.9")
    assert float(pair.part) < 0.0
    squares = sum(float(r.part) * abs(float(r.part)) for r in rows)
    assert squares == pytest.approx(budget.combined() ** 2, rel=0.01)


def test_text():
    small = Budget((normal("scale", 0.0005, 2.0), rectangular("display", 0.00005)))
    text = budget_text(small, unit="g", scale=1000.0)
    assert text.splitlines() == [
        "contribution  shape         stated  divisor          u  sensitivity     part   dof   u_c²",
        "-" * 89,
        "scale         normal       ±0.0005        2    0.00025            1     0.25  many  98.7%",
        "display       rectangular   ±5e-05    1.732  2.887e-05            1  0.02887  many   1.3%",
        "",
        "combined standard uncertainty u_c = 0.2517 g",
        "effective degrees of freedom      = many",
        "coverage factor k                 = 2 for 0.9545",
        "expanded uncertainty U = k u_c    = 0.5033 g",
    ]


def test_finite_degrees_of_freedom_are_said(budget):
    text = budget_text(budget, coverage=0.95)
    assert f"= {budget.effective_dof():.1f}\n" in text
    assert all(heading in text for heading in HEADINGS)


def test_an_empty_uncertainty_has_no_shares():
    (row,) = table_rows(Budget((normal("exact", 0.0),)))
    assert (row.share, row.part) == ("", "0")
