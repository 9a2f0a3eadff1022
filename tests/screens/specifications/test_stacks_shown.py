"""The disc stacks of a specification are drawn beside its form, in the reader's units."""

import pytest

from benchstation.demo import shop as demo
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.screens.specifications.detail import stacks

SHOWN = {s.id: s for s in demo.specifications().values()}


@pytest.mark.parametrize(
    ("system", "high"), [(UnitSystem.METRIC, "1.80 mm"), (UnitSystem.INCH_POUND, "0.0709 in")]
)
def test_both_stacks_are_drawn_with_their_height(system, high):
    shown = stacks(SHOWN["mr-46-rear"], QuantityFormatter(system))
    assert [name.split(",")[0] for name, _ in shown] == ["Compression stack", "Rebound stack"]
    name, view = shown[0]
    assert name.endswith(f"9 discs, {high} high")
    assert sum(disc.count for disc in view.discs) == 9
    assert view.widest == SHOWN["mr-46-rear"].geometry.bore


def test_a_unit_without_stacks_has_none():
    assert stacks(SHOWN["sledge-36"], QuantityFormatter(UnitSystem.METRIC)) == ()
