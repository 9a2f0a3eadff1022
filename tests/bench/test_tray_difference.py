"""Oil that came before the tray's tare was proven is weighed against the tray's empty weight."""

import pytest

from benchstation.domain.events import MassCaptured, TareProven
from benchstation.domain.oil_balance import weighings_of
from benchstation.domain.specification import StepKind
from benchstation.domain.unit_commands import NotAllowedError
from tests.oil_hands import act, enabled, goal, judged, restart, tare, view


@pytest.fixture
def bleeding(bench):
    """At the bleed step with the tray on the scale and no tare yet."""
    bench.work_to(StepKind.BLEED)
    bench.sign_in()
    bench.world.model.put_on_pan("tray")
    bench.run(4)
    return bench


def run_off(bench, kg):
    while kg > 1e-9:
        part = min(0.0005, kg)
        bench.world.model.bleed(part)
        kg -= part
        bench.run(0.1)


def offered(bench):
    return any(a.id == "weigh_tray" for a in view(bench).task.actions)


@pytest.mark.parametrize("after_s", [0.2, 1.0, 2.0, 2.6])
def test_what_comes_a_moment_after_the_tare_was_asked_for_is_weighed(bleeding, after_s):
    surplus = goal(bleeding)
    act(bleeding, "tare")
    bleeding.run(after_s)
    run_off(bleeding, surplus)
    bleeding.run(20)
    if not bleeding.session.unit().unweighed:
        assert bleeding.session.unit().tare is not None, "the tare was proven before"
        return
    assert offered(bleeding)
    assert enabled(bleeding, "weigh_tray")
    said = act(bleeding, "weigh_tray")
    assert "in the tray, by difference: pass" in said
    captured = bleeding.store.entries(kind=MassCaptured.kind)[-1].event
    assert captured.shown_kg == pytest.approx(surplus, abs=3e-4)
    assert (captured.purpose, captured.method) == ("bleed", "difference")
    assert captured.raw
    net = judged(bleeding, StepKind.BLEED)
    assert net.decision == "pass"
    assert bleeding.session.unit().unweighed == ()
    assert not any("unweighed" in r.code for r in bleeding.session.unit().hold_reasons)
    assert StepKind.BLEED is not bleeding.session.unit().current.kind, "its capture signs it"


def test_its_difference_counts_with_its_own_uncertainty(bleeding):
    surplus = goal(bleeding)
    act(bleeding, "tare")
    bleeding.run(1.0)
    run_off(bleeding, surplus)
    bleeding.run(20)
    act(bleeding, "weigh_tray")
    masses = [e.event for e in bleeding.store.entries(kind=MassCaptured.kind)]
    counted = weighings_of(masses)
    # The pour has a tare and a reading; the difference two readings, and a zero for each.
    assert (counted.tared, counted.differences) == (1, 1)


def test_a_tare_that_held_before_is_remembered_over_a_pulled_plug(bleeding):
    """Oil runs while the scale is unplugged: the tray's proven load tells how much."""
    surplus = goal(bleeding)
    tare(bleeding, "tray")
    assert len(bleeding.store.entries(kind=TareProven.kind)) > 1
    run_off(bleeding, 0.0014)
    bleeding.unplugged.add("scale")
    bleeding.run(4)
    run_off(bleeding, surplus - 0.0014)
    bleeding.unplugged.clear()
    bleeding.run(6)
    assert offered(bleeding)
    act(bleeding, "weigh_tray")
    captured = bleeding.store.entries(kind=MassCaptured.kind)[-1].event
    assert captured.shown_kg == pytest.approx(surplus, abs=3e-4)


def test_the_tray_is_weighed_after_a_restart_too(bleeding, tmp_path):
    surplus = goal(bleeding)
    act(bleeding, "tare")
    bleeding.run(1.0)
    run_off(bleeding, surplus)
    bleeding.run(20)
    again = restart(bleeding, tmp_path)
    try:
        again.run(3)
        assert "by difference: pass" in act(again, "weigh_tray")
    finally:
        again.store.close()


def test_without_the_tray_on_the_scale_nothing_is_made_up(bleeding):
    act(bleeding, "tare")
    bleeding.run(1.0)
    run_off(bleeding, goal(bleeding))
    bleeding.run(20)
    for what in ("nothing", "check weight", "body"):
        bleeding.world.model.put_on_pan(what)
        bleeding.run(4)
        before = bleeding.store.head()
        with pytest.raises(NotAllowedError, match="cannot be told from its empty weight"):
            act(bleeding, "weigh_tray")
        assert bleeding.store.head() == before


def test_where_nothing_is_in_doubt_it_is_not_offered(bleeding):
    assert not offered(bleeding)
    with pytest.raises(NotAllowedError, match="not known, or nothing in it is in doubt"):
        act(bleeding, "weigh_tray")
    tare(bleeding, "tray")
    assert not offered(bleeding)
