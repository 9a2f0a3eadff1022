"""Oil that was moved and is in no record is told of until it is weighed or put right."""

import pytest

from benchstation.bench.tare_loss import recover
from benchstation.demo import shop as demo
from benchstation.domain.events import TareLost, event_from
from benchstation.domain.specification import StepKind
from benchstation.domain.statements import Code, Statement
from tests.oil_hands import act, capture, lines, pour, restart, tare
from tests.stepped_bench import make_bench

TOLD = "about 80 g are not captured"


def left_amid_a_pour(bench):
    """Pour 80 g, set the unit aside, and fetch it; gives what is said then."""
    bench.work_to(StepKind.WEIGH)
    bench.sign_in()
    unit = bench.session.unit().unit_id
    tare(bench, "body")
    pour(bench, 0.080)
    assert "About 80 g" in act(bench, "set_aside", reason="waits for oil")
    bench.run(60)
    return act(bench, "fetch", unit=unit)


def proven_out(bench):
    act(bench, "prove", confirm1="yes")
    bench.run(1)


def test_what_was_poured_is_told_of_after_the_unit_lay_aside(bench):
    said = left_amid_a_pour(bench)
    assert "About 80 g are not captured. Put back what is not captured, then tare again." in said
    assert bench.session.message.needs_attention
    assert any("about 80 g of oil are not captured" in line for line in lines(bench))
    proven_out(bench)
    assert any(TOLD in line for line in lines(bench))
    assert "About 80 g were not captured: undo that first" in act(bench, "tare")


def test_it_is_told_of_after_a_restart_and_by_whatever_is_weighed(bench, tmp_path):
    left_amid_a_pour(bench)
    proven_out(bench)
    again = restart(bench, tmp_path)
    try:
        assert any(TOLD in line for line in lines(again))
        act(again, "by_loss")
        assert any(TOLD in line for line in lines(again))
    finally:
        again.store.close()


def test_the_first_word_after_a_restart_tells_of_it(bench, tmp_path):
    left_amid_a_pour(bench)
    bench.store.close()
    again = make_bench(tmp_path)
    try:
        recover(again.session)
        assert "About 80 g are not captured" in again.session.message.text
        assert again.session.message.needs_attention
    finally:
        again.store.close()


def test_it_is_over_once_the_oil_was_put_back_and_tared_anew(bench):
    left_amid_a_pour(bench)
    proven_out(bench)
    bench.world.model.take_out(0.080)
    tare(bench, "body")
    assert bench.session.unit().uncaptured is None
    pour(bench, 0.050)
    capture(bench)
    unit = bench.session.unit().unit_id
    act(bench, "set_aside", reason="waits")
    assert "captured" not in act(bench, "fetch", unit=unit)


def test_gone_back_before_the_oil_it_is_over(bench):
    left_amid_a_pour(bench)
    proven_out(bench)
    bench.sign_in(demo.LEAD)
    act(bench, "back", step="strip", reason="a seal is cut")
    assert bench.session.unit().uncaptured is None


def test_a_tare_that_was_lost_before_amounts_were_written_is_read():
    body = {"unit_id": "u", "step_id": "oil", "reason": "plug pulled"}
    why = Statement.of(Code.TEXT, text="plug pulled")
    assert event_from(TareLost.kind, body) == TareLost("u", "oil", why, pytest.approx(0))
