"""The panel of reasons says what an uncertainty is made of, and what is not in it."""

from dataclasses import replace

import pytest

from benchstation.domain.specification import StepKind
from benchstation.screens.bench.why import why


def group(bench, title):
    found = why(bench.session, bench.session.words)
    return next(g for g in found if g.title == title)


def test_the_oils_uncertainty_is_shown_by_contribution_the_largest_first(bench):
    bench.work_to(StepKind.WEIGH)
    terms = group(bench, "Uncertainty by contribution").terms
    assert terms[0].label == "Density of the oil lot"
    shares = [float(t.source.removesuffix(" % of u²")) for t in terms]
    assert shares == sorted(shares, reverse=True)
    assert sum(shares) == pytest.approx(100, abs=4)


def test_the_air_in_the_oil_is_a_note_with_its_size(bench):
    bench.work_to(StepKind.WEIGH)
    dissolved, bubbles = group(bench, "Air in the oil, not in U").terms
    assert dissolved.value.startswith("0.03")
    assert bubbles.value == "2.6 mL of room"
    assert bubbles.source.startswith("0.2 mL under charge")


def test_the_charges_uncertainty_names_the_unit_and_what_the_target_leaves_out(bench):
    bench.work_to(StepKind.CHARGE)
    names = [t.label for t in group(bench, "Uncertainty by contribution").terms]
    assert "Temperature of the unit" in names


def test_the_rod_side_is_shown_where_its_force_is_stated(bench):
    bench.work_to(StepKind.CHARGE)
    names = [t.label for t in group(bench, "What follows").terms]
    assert "Rod side in rebound, hot" not in names
    rebuild = bench.session.rebuild
    limits = rebuild.specification.limits.model_copy(update={"rebound_force": 3500.0})
    specification = rebuild.specification.model_copy(update={"limits": limits})
    bench.session.on_bench.rebuild = replace(rebuild, specification=specification)
    shown = {t.label: t.source for t in group(bench, "What follows").terms}
    assert "rated 80" in shown["Rod side in rebound, hot"]
