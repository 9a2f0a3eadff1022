"""The can that oil is poured from is scanned; another lot is refused, and none is not filed."""

import pytest

from benchstation.bench.capture.weighing import Phase
from benchstation.bench.targets import present_pour
from benchstation.demo import shop as demo
from benchstation.domain.can_lots import unconfirmed
from benchstation.domain.events import LotConfirmed
from benchstation.domain.refusals import NotAllowedError
from benchstation.domain.specification import StepKind
from benchstation.quantities.formatter import METRIC
from benchstation.screens.bench.page import bench_view
from tests.stepped_bench import make_bench


@pytest.fixture
def bench(tmp_path):
    bench = make_bench(tmp_path)
    bench.work_to(StepKind.WEIGH, can=False)
    yield bench
    bench.store.close()


def actions(bench) -> list[str]:
    return [action.id for action in bench_view(bench.session, METRIC).task.actions]


def test_a_can_of_another_lot_is_refused(bench):
    assert "ask_can" in actions(bench)
    bench.session.act("ask_can", {})
    assert bench_view(bench.session, METRIC).task.step_id == "oil-can"
    with pytest.raises(NotAllowedError, match="L-0432"):
        bench.session.act("confirm_lot", {"lot": "L-0432"})
    assert bench.session.unit().lots_confirmed == ()


def test_the_can_that_was_chosen_is_on_record(bench):
    bench.session.act("confirm_lot", {"lot": " L-0417 "})
    assert "ask_can" not in actions(bench)
    entries = bench.store.entries(unit_id=bench.session.unit().unit_id)
    assert LotConfirmed(bench.session.unit().unit_id, "oil", "L-0417") in [e.event for e in entries]


def forget_the_can(bench):
    """Tare and pour as one does who forgets the can."""
    bench.world.model.put_on_pan("body")
    bench.run(2)
    bench.session.act("tare", {})
    bench.until(lambda: bench.session.work.weighing.phase is Phase.POURING)
    bench.pour(present_pour(bench.session).goal_kg)


def test_nothing_poured_is_captured_before_the_can_was_scanned(bench):
    forget_the_can(bench)
    with pytest.raises(NotAllowedError, match="the can of L-0417 is not scanned yet"):
        bench.session.act("capture", {})
    capture = next(a for a in bench_view(bench.session, METRIC).task.actions if a.id == "capture")
    assert (capture.enabled, capture.why_not) == (False, "the can of L-0417 is not scanned yet")
    bench.session.act("confirm_lot", {"lot": "L-0417"})
    bench.session.act("capture", {})
    bench.until(lambda: bench.session.unit().current.kind is StepKind.BLEED)


def test_a_deviation_goes_on_without_the_can_and_filing_accepts_it_anew(bench):
    forget_the_can(bench)
    bench.sign_in("oberhauser")
    bench.session.act("deviation", {**demo.SIGNED, "reason": "the label came off"})
    bench.sign_in()
    bench.session.act("capture", {})
    bench.until(lambda: bench.session.unit().captures != ())
    bench.work_to(StepKind.FILE)
    assert unconfirmed(bench.session.unit()) == ("L-0417",)
    with pytest.raises(NotAllowedError, match="was not scanned"):
        bench.session.act("file", {})
    assert "ask_can" in actions(bench)
    bench.session.act("confirm_lot", {"lot": "L-0417"})
    bench.session.act("file", {})
    assert bench.session.rebuild.ended == "filed"
