"""A route whose gas nothing could prove is refused at its approval, in words."""

from dataclasses import dataclass

import pytest

from benchstation.demo import shop as demo
from benchstation.domain.approval import approve
from benchstation.domain.events import SpecificationDrafted
from benchstation.domain.gas_mass import specified_gas_kg, why_never_proven
from benchstation.domain.people import Role
from benchstation.domain.refusals import NotAllowedError
from benchstation.domain.specification import specification_from_toml
from benchstation.physics import nitrogen

FINE, COARSE = (3e-5, 1e-5), (5e-4, 1e-3)


@dataclass(frozen=True)
class Lead:
    person_id: str = "second"

    def has(self, *roles: Role) -> bool:
        return True


def text(family: str) -> str:
    return next(text for text, s in demo.specifications().items() if s.id == family)


def without_seal(family: str) -> str:
    """Leave every confirmed step after the charge out."""
    head, *steps = text(family).split("[[steps]]")
    after = [f'id = "{name}"' for name in ("seal", "function", "push")]
    kept = [step for step in steps if not any(name in step for name in after)]
    return "[[steps]]".join([head, *kept])


def refused(source: str, *scales) -> str:
    drafted = SpecificationDrafted("x", 1, source, "")
    with pytest.raises(NotAllowedError) as error:
        approve(drafted, "first", Lead(), scales)
    assert "push force" in error.value.advice
    return str(error.value)


def approved(source: str, *scales) -> bool:
    drafted = SpecificationDrafted("x", 1, source, "")
    return approve(drafted, "first", Lead(), scales).source == source


def test_the_gas_is_that_of_charge_and_oil():
    s = specification_from_toml(text("sledge-36"), where="x")
    volume = s.geometry.model().gas_volume_m3(s.oil.volume)
    kelvin = s.oil.reference_temperature
    per_pa = nitrogen.density_kg_m3(1e5, kelvin) / 1e5
    assert specified_gas_kg(s) == pytest.approx(volume * per_pa * s.gas.gauge_pressure, rel=0.02)


@pytest.mark.parametrize("scales", [(), (FINE,), (COARSE,), (FINE, COARSE)])
def test_a_route_that_measures_the_push_force_needs_no_scale(scales):
    assert approved(text("mr-46-front"), *scales)


def test_without_the_push_force_a_scale_must_tell_the_gas():
    assert approved(text("sledge-36"), FINE)
    assert approved(text("sledge-36"), COARSE, FINE)
    said = refused(text("sledge-36"), COARSE)
    assert "no push force is measured after the seal-off, and no scale here can tell" in said


@pytest.mark.parametrize("family", ["sledge-36", "mr-46-front"])
def test_a_route_without_a_seal_off_is_refused_whatever_else_it_measures(family):
    assert "line is vented" in refused(without_seal(family), FINE)


def test_whether_it_counts_as_too_coarse_turns_at_a_third_of_the_gas():
    s = specification_from_toml(text("sledge-36"), where="x")
    edge = specified_gas_kg(s) / 3.0 / 2.0 / 2**0.5
    assert why_never_proven(s, [(0.999 * edge, 0.0)]) == ""
    assert why_never_proven(s, [(1.001 * edge, 0.0)]) != ""
