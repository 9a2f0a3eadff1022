"""The can that oil is poured from is scanned; another lot is refused, and none is not filed."""

import pytest

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
    bench.work_to(StepKind.WEIGH)
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


def test_a_unit_whose_can_was_not_scanned_is_not_filed(bench, monkeypatch):
    # The one who forgets it.
    monkeypatch.setattr("benchstation.demo.technician.Technician.scan_can", lambda *_: None)
    bench.work_to(StepKind.FILE)
    assert unconfirmed(bench.session.unit()) == ("L-0417",)
    with pytest.raises(NotAllowedError, match="was not scanned"):
        bench.session.act("file", {})
    assert "ask_can" in actions(bench)
    bench.session.act("confirm_lot", {"lot": "L-0417"})
    bench.session.act("file", {})
    assert bench.session.rebuild.ended == "filed"
