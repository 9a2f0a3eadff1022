"""Who has left is signed out, never while anything goes on."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchstation.bench.idle import FLOW_S, WARN_S, Idle
from benchstation.bench.tare_loss import lose_tare
from benchstation.bench.time_out import occupation, warning
from benchstation.domain.specification import StepKind
from benchstation.domain.statements import Code, Statement

AFTER_S = 60.0


@pytest.fixture
def timed(bench):
    bench.session.signed_in.idle.sign_out_after(AFTER_S)
    return bench


def test_nobody_is_signed_out_unless_it_is_set(bench):
    bench.sign_in()
    bench.run(120)
    assert bench.session.person is not None
    assert warning(bench.session) == ""


def test_half_a_minute_before_the_bench_says_so_and_a_key_ends_it(timed):
    timed.sign_in()
    timed.run(AFTER_S - WARN_S - 1)
    assert warning(timed.session) == ""
    timed.run(2)
    assert warning(timed.session) == "Mira Kofler is signed out in 29 s. Press any key to stay."
    timed.session.signed_in.idle.stir(timed.clock.seconds())
    assert warning(timed.session) == ""
    timed.run(AFTER_S - 1)
    assert timed.session.person is not None
    timed.run(2)
    assert timed.session.person is None
    assert timed.session.message.text == "Mira Kofler is signed out. Nobody was here for 60 s."
    assert warning(timed.session) == ""


def test_the_unit_stays_where_it_is(timed):
    timed.work_to(StepKind.MEASURE)
    where = timed.session.rebuild.current.id
    timed.run(FLOW_S + AFTER_S + WARN_S)
    assert timed.session.person is None
    assert timed.session.rebuild.current.id == where
    assert timed.store.open_unit()


def test_a_tared_pour_is_waited_for_and_half_a_minute_after_it(timed):
    timed.work_to(StepKind.WEIGH)
    timed.world.model.put_on_pan("body")
    timed.run(4)
    timed.session.act("tare", {})
    timed.until(lambda: timed.session.work.weighing.tared)
    timed.run(3 * AFTER_S)
    assert timed.session.person is not None
    assert occupation(timed.session) == "a weighing is under way"
    assert warning(timed.session) == ""
    timed.clock.advance(0.02)
    assert warning(timed.session) == "", "nor between two judgements"
    lose_tare(timed.session, Statement(Code.TARED_AGAIN))
    timed.run(WARN_S - 1)
    assert warning(timed.session)
    assert timed.session.person is not None
    timed.run(2)
    assert timed.session.person is None


def test_flowing_gas_is_waited_for(timed):
    timed.work_to(StepKind.RELEASE)
    timed.run(2 * FLOW_S)
    assert occupation(timed.session) == ""
    timed.world.model.vent_opening = 0.2
    timed.run(3)
    assert occupation(timed.session) == "gas is flowing"
    timed.world.model.vent_opening = 0.0
    timed.run(AFTER_S + FLOW_S)
    assert timed.session.person is None


def test_a_charge_that_was_asked_for_and_a_text_that_is_not_kept_are_waited_for(timed):
    timed.sign_in()
    timed.session.signed_in.idle.hold_text(True)
    timed.run(2 * AFTER_S)
    assert timed.session.person is not None
    timed.session.signed_in.idle.hold_text(False)
    work = timed.session.work
    for want, end in ((work.want_charge, work.end_charge), (work.want_hold, work.end_hold)):
        want()
        assert "under way" in occupation(timed.session)
        end()
    timed.run(WARN_S + 1)
    assert timed.session.person is None


def test_an_alarm_that_is_not_acknowledged_is_waited_for(timed):
    timed.sign_in()
    timed.unplugged.add("gauge")
    timed.run(2 * AFTER_S)
    assert timed.session.person is not None
    assert occupation(timed.session) == "an alarm is not acknowledged"
    (alarm,) = timed.session.watch.snapshot().alarms
    timed.session.watch.acknowledge("kofler", "cable", alarm.episode)
    timed.run(WARN_S + 1)
    assert timed.session.person is None


def test_signing_out_by_itself_counts_no_try(timed):
    timed.sign_in()
    timed.run(AFTER_S + 1)
    assert "kofler" not in timed.session.signed_in.tries


@given(
    st.floats(30, 3600),
    st.floats(0, 1e5),
    st.floats(0, 1e5),
    st.floats(0, 1e5),
)
def test_there_is_always_the_whole_warning_after_what_held_it_up(after, stirred, occupied, later):
    idle = Idle(after, stirred_at=stirred, occupied_at=occupied)
    now = max(stirred, occupied) + later
    if idle.left_s(now) <= 0:
        assert now - occupied >= WARN_S
        assert now - stirred >= after
