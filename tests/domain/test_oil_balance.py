"""What counts of what was weighed, and what several lots mix to."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.domain.events import MassCaptured
from benchstation.domain.oil_balance import (
    Purpose,
    Weighings,
    added_by_lot,
    counting,
    mixture,
    net_shown_kg,
    next_portion,
    weighings_of,
)
from benchstation.domain.recorded_parts import ReadByHand
from benchstation.physics.oil import Oil

LOTS = {"A": Oil(851.3, u_rel=3e-4), "B": Oil(853.9, u_rel=4e-4), "C": Oil(828.4, 7.9e-4, 4e-4)}


def mass(purpose, kg, portion=1, lot="A", *, step="oil", **more):
    return MassCaptured(
        "u", step, purpose, "scale-1", kg, 1e-5, 9, 1e-5, "", "",
        oil_lot=lot if Purpose(purpose).adds else "", portion=portion, **more,
    )  # fmt: skip


def test_net_is_poured_and_topped_up_less_bled_and_spilled():
    parts = [
        mass("before", 0.9),
        mass("pour", 0.2249),
        mass("spill", 0.001, 2),
        mass("bleed", 0.005, 3, step="bleed"),
        mass("topup", 0.0022, 4, step="bleed"),
    ]
    counted = counting(parts)
    assert [c.purpose for c in counted] == ["pour", "spill", "bleed", "topup"]
    assert net_shown_kg(counted) == pytest.approx(0.2249 - 0.001 - 0.005 + 0.0022)


def test_within_a_portion_the_newest_counts_and_portions_add():
    parts = [mass("pour", 0.229), mass("pour", 0.2), mass("pour", 0.025, 2)]
    assert [c.shown_kg for c in counting(parts)] == [0.2, 0.025]
    assert next_portion(parts) == 3
    assert next_portion([]) == 1


def test_what_is_weighed_again_takes_the_place_of_its_own_lot_only():
    parts = [
        mass("pour", 0.1),
        mass("pour", 0.12, 2, lot="B"),
        mass("pour", 0.03, 3, lot="B"),
        mass("pour", 0.125, 4, lot="B", again=True),
        mass("pour", 0.124, 4, lot="B", again=True),
    ]
    assert [c.shown_kg for c in counting(parts)] == [0.1, 0.124]


def test_before_there_were_portions_the_last_capture_counted():
    old = [mass("pour", 0.229, 0), mass("pour", 0.2249, 0)]
    assert [c.shown_kg for c in counting(old)] == [0.2249]


def test_one_lot_is_itself_and_none_yet_is_the_lot_at_hand():
    assert mixture({"A": 0.2}, LOTS, "B").oil is LOTS["A"]
    assert mixture({}, LOTS, "B").oil is LOTS["B"]


masses = st.floats(0.001, 1.0)


@given(masses, masses, masses)
def test_a_mixture_holds_the_volume_of_its_lots_at_any_temperature(a, b, c):
    """Ideal mixing: V(T) of the mixture is the sum of the lots' own volumes, 0 to 60 degC."""
    added = {"A": a, "B": b, "C": c}
    mixed = mixture(added, LOTS, "A").oil
    for kelvin in (273.15, 288.15, 293.15, 333.15):
        volume = sum(kg / LOTS[lot].density(kelvin) for lot, kg in added.items())
        assert sum(added.values()) / mixed.density(kelvin) == pytest.approx(volume, rel=3e-6)


@given(masses, masses)
def test_two_independent_densities_are_more_certain_together_than_the_worse(a, b):
    mixed = mixture({"A": a, "B": b}, LOTS, "A").oil
    assert mixed.u_rel <= LOTS["B"].u_rel
    assert LOTS["A"].rho15_kg_m3 <= mixed.rho15_kg_m3 <= LOTS["B"].rho15_kg_m3


def test_a_part_without_a_lot_is_of_the_first():
    parts = [mass("pour", 0.1, lot=""), mass("topup", 0.02, 2, lot="B"), mass("bleed", 0.01, 3)]
    assert added_by_lot(parts, "A") == {"A": 0.1, "B": 0.02}


def test_the_weighings_behind_a_net_are_counted_by_their_kind():
    typed = ReadByHand("Counter scale", "K-77", 1e-4, 6e-4, "wieland", u_kg=3e-4)
    parts = [
        mass("pour", 0.1, method="difference"),
        mass("topup", 0.1, 2, method="loss"),
        mass("bleed", 0.01, 3),
        mass("spill", 0.01, 4, method="hand", by_hand=typed),
    ]
    assert weighings_of(parts) == Weighings(2, 1, (3e-4,))
