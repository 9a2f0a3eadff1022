"""A leak limit from service, and what a hold or a second reading can prove of it."""

from importlib.resources import files

import pytest

from benchstation.domain.body_temperature import time_constant_of
from benchstation.domain.leak_limits import (
    USUAL_GAUGE,
    GaugeAtHand,
    hold_proof,
    second_proves,
    wait_to_prove_s,
)
from benchstation.domain.specification import SpecificationError, specification_from_toml
from benchstation.physics import nitrogen

FOLDER = files("resources") / "demo" / "specifications"
STATED = 'allowed_leak = "2e-3 Pa*m**3/s"'


def front(gas=STATED):
    text = (FOLDER / "mr-46-front.toml").read_text("utf-8")
    return specification_from_toml(text.replace(STATED, gas))


def proof(specification, gauge=USUAL_GAUGE, u_k=1.0):
    return hold_proof(specification, gauge, u_k, time_constant_of(specification))


SERVICE = 'service = { lost = "1 bar", within = "365 d" }'


def test_the_rate_follows_from_service():
    """1 bar of 101.49 mL in 365 d: 101.49e-6 * 1e5 / 31.536e6 = 3.218e-7 Pa m3/s."""
    alone, both = front(SERVICE), front(f"{STATED}\n{SERVICE}")
    assert alone.service_leak == pytest.approx(3.218e-7, rel=1e-3)
    assert alone.hold_leak == alone.service_leak
    assert (both.hold_leak, both.service_leak) == (2e-3, alone.service_leak)
    assert front().service_leak == front().hold_leak == 2e-3


def test_a_year_is_taken_where_no_time_is_stated():
    assert front('service = { lost = "1 bar" }').service_leak == front(SERVICE).service_leak


def test_more_than_the_charge_is_no_service():
    with pytest.raises(SpecificationError, match="less than the charge"):
        front('service = { lost = "15 bar" }')


def test_a_revision_without_service_keeps_its_bytes():
    assert "service" not in front().content()["gas"]
    assert front(SERVICE).content()["gas"]["service"] == {"lost": 1e5, "within": 31_536_000.0}


def test_two_millipascals_are_most_of_a_bar_an_hour():
    """2e-3 / 101.49e-6 = 19.7 Pa/s: 0.71 bar in an hour."""
    found = proof(front())
    assert found.loss_pa_s(found.allowed) * 3600 / 1e5 == pytest.approx(0.71, abs=0.01)
    assert found.proves_allowed
    assert found.proves_service


def test_a_hold_cannot_prove_what_service_asks():
    found = proof(front(SERVICE))
    assert not found.proves_allowed
    assert found.least > 1000 * found.service
    stated = proof(front(f"{STATED}\n{SERVICE}"))
    assert stated.proves_allowed
    assert not stated.proves_service, "passing 2e-3 says nothing of 3e-7"


def test_a_coarse_gauge_and_a_warm_unit_tell_less():
    usual = proof(front()).least
    assert proof(front(), GaugeAtHand(1e4, 100.0, 0.1)).least > 10 * usual
    assert proof(front(), u_k=10.0).least > 5 * usual


def test_how_long_a_unit_waits_by_hand():
    """Four times 0.02 g of nitrogen, p/rho = 86.7 kJ/kg at 16 bar: 6.94 Pa m3 / 3.218e-7."""
    specification = front(SERVICE)
    per_kg = 16.01325e5 / nitrogen.density_kg_m3(16.01325e5, 293.15)
    expected = 4 * 2e-5 * per_kg / specification.service_leak
    assert wait_to_prove_s(specification, 2e-5) == pytest.approx(expected, rel=1e-3)
    assert second_proves(specification, 2e-5) is None, "this route has no second reading"


def test_a_second_reading_that_comes_too_early_proves_nothing():
    text = (FOLDER / "stretcher-36.toml").read_text("utf-8")
    assert second_proves(specification_from_toml(text), 2e-5) is True
    strict = text.replace('allowed_leak = "1.5e-3 Pa*m**3/s"', 'service = { lost = "1 bar" }')
    assert second_proves(specification_from_toml(strict), 2e-5) is False
