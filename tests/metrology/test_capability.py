"""Capability and performance against the e-Handbook, and confidence limits that cover."""

import math
import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.metrology.capability import capability, indices, moving_range_dof
from benchstation.metrology.distributions import normal_cdf
from benchstation.metrology.errors import MetrologyError
from tests.reference_rows import assert_agrees, row, rows

FILE = "spc.csv"
NAMES = {"Cp": "both", "Cpk": "worse", "Cpu": "to_upper", "Cpl": "to_lower"}


def named(reference):
    at = {k: float(v) for k, v in re.findall(r"(\w+)=(\S+)", reference["inputs"])}
    return indices(at["mean"], at["s"], at["LSL"], at["USL"])


@pytest.mark.parametrize(
    "reference", [r for name in NAMES for r in rows(FILE, quantity=name)], ids=str
)
def test_published_indices(reference):
    assert_agrees(reference, getattr(named(reference), NAMES[reference["quantity"]]))


@pytest.mark.parametrize("reference", rows(FILE, quantity="fraction_out"), ids=str)
def test_published_fraction_outside(reference):
    assert_agrees(reference, named(reference).fraction_outside)


@pytest.mark.parametrize("reference", rows(FILE, quantity="ppm_one_tail_at_Cpk"), ids=str)
def test_one_tail(reference):
    cpk = float(reference["inputs"].split("=")[1])
    assert_agrees(reference, 1e6 * indices(0.0, 1.0, None, 3.0 * cpk).fraction_outside)


FLOW = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]


def test_of_a_series():
    """Spread within is MRbar/d2 (e-Handbook 6.3.2.2), overall the standard deviation."""
    found = capability(FLOW, 40.0, 60.0)
    reference = row(FILE, quantity="mean", example="NIST 6.3.2.2 individuals chart")
    assert_agrees(reference, found.mean)
    assert found.sigma_within == pytest.approx(1.8778 / 1.128, rel=1e-4)
    assert found.sigma_overall == pytest.approx(float(np.std(FLOW, ddof=1)))
    assert found.cp.value == pytest.approx(20 / (6 * found.sigma_within))
    assert found.ppk.value == pytest.approx((60 - found.mean) / (3 * found.sigma_overall))
    assert found.in_control


def test_confidence_limits_of_a_spread():
    """Chi-squared of nine degrees of freedom: 2.700 and 19.023 (e-Handbook 1.3.6.7.4, memory)."""
    pp = capability(FLOW, 40.0, 60.0).pp
    assert pp.lower / pp.value == pytest.approx(math.sqrt(2.700 / 9), abs=1e-4)
    assert pp.upper / pp.value == pytest.approx(math.sqrt(19.023 / 9), abs=1e-4)


def test_confidence_limits_of_a_distance():
    """Ppk +- 1.96 sqrt(1/(9 n) + Ppk**2/(2 (n - 1))) (e-Handbook 6.1.6, from memory)."""
    ppk = capability(FLOW, 40.0, 60.0).ppk
    reach = 1.959964 * math.sqrt(1 / 90 + ppk.value**2 / 18)
    assert (ppk.lower, ppk.upper) == pytest.approx((ppk.value - reach, ppk.value + reach))


def test_one_sided():
    found = capability(FLOW, None, 60.0)
    assert found.cp is None
    assert found.pp is None
    assert found.cpk.value == pytest.approx((60 - found.mean) / (3 * found.sigma_within))


def test_out_of_control_is_said():
    stepped = [0.1, -0.1] * 5 + [3.1, 2.9] * 5
    found = capability(stepped, -10.0, 10.0)
    assert not found.in_control
    assert found.sigma_overall > 3 * found.sigma_within


@pytest.fixture(scope="module")
def draws():
    """Rows of 30 values of a normal process; seeded."""
    return np.random.default_rng(1924).normal(0.0, 1.0, (40_000, 30))


def test_degrees_of_freedom_of_the_moving_range(draws):
    """Drawn: the scatter of MRbar/d2 is that of 1/sqrt(2 nu)."""
    sigmas = np.abs(np.diff(draws, axis=1)).mean(axis=1) / (2 / math.sqrt(math.pi))
    assert sigmas.mean() == pytest.approx(1.0, abs=0.003)
    assert moving_range_dof(30) == pytest.approx(0.5 / sigmas.var(), rel=0.03)


def test_confidence_limits_cover(draws):
    """True Cp 1 and Ppk 1 (limits +-3) lie within the 95 % limits in about 95 of 100 series."""
    found = [capability(row.tolist(), -3.0, 3.0) for row in draws[:1500]]
    for name in ("cp", "pp"):
        spread = [getattr(c, name) for c in found]
        covered = np.mean([b.lower <= 1.0 <= b.upper for b in spread])
        assert covered == pytest.approx(0.95, abs=0.02)
    assert np.mean([c.ppk.lower <= 1.0 <= c.ppk.upper for c in found]) > 0.92


@given(st.floats(-2, 2), st.floats(0.1, 3))
def test_the_worse_side_rules(mean, sigma):
    found = indices(mean, sigma, -1.0, 1.0)
    assert found.worse <= found.both * (1 + 1e-12)
    assert found.both == pytest.approx(0.5 * (found.to_lower + found.to_upper))
    outside = normal_cdf((-1 - mean) / sigma) + normal_cdf((mean - 1) / sigma)
    assert found.fraction_outside == pytest.approx(outside)


@pytest.mark.parametrize(
    "make",
    [
        lambda: indices(0.0, 0.0, -1.0, 1.0),
        lambda: indices(math.nan, 1.0, -1.0, 1.0),
        lambda: indices(0.0, 1.0, None, None),
        lambda: indices(0.0, 1.0, 1.0, 1.0),
        lambda: indices(0.0, 1.0, 1.0, -1.0),
        lambda: indices(0.0, 1.0, math.nan, 1.0),
        lambda: indices(0.0, 1.0, None, math.inf),
        lambda: capability([1.0, 1.0, 1.0], 0.0, 2.0),
        lambda: capability([1.0, 2.0], 0.0, 2.0),
        lambda: capability(FLOW, 40.0, 60.0, confidence=1.0),
        lambda: moving_range_dof(2),
    ],
)
def test_what_tells_no_capability_is_refused(make):
    with pytest.raises(MetrologyError):
        make()
