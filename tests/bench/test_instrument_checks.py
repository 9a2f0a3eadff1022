"""Today's check of scale and gauge."""

import pytest

from benchstation.bench.locks import capture_locked
from benchstation.bench.tare_loss import recover
from benchstation.domain.events import InstrumentChecked
from benchstation.domain.specification import StepKind
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.driver_api.errors import StationError
from tests.stepped_bench import make_bench


def check(bench, role="scale", **fields):
    return bench.session.act("check", {"instrument": f"{role}-1", **fields})


def test_a_check_weight_passes_and_is_on_record(bench):
    bench.sign_in()
    bench.world.model.put_on_pan("check weight")
    bench.run(3)
    assert "passed" in check(bench, nominal="200 g")
    (entry,) = bench.store.entries(kind=InstrumentChecked.kind)
    assert entry.event.nominal == pytest.approx(0.2)
    assert entry.event.observed == pytest.approx(0.2, abs=1e-4)


def test_a_failed_check_blocks_quality_results_until_it_passes(bench):
    bench.work_to(StepKind.WEIGH)
    bench.world.model.put_on_pan("check weight")
    bench.run(3)
    assert "FAILED" in check(bench, nominal="201 g")
    with pytest.raises(NotAllowedError, match="failed its last check"):
        bench.session.act("capture", {})
    check(bench, nominal="200 g")
    assert capture_locked(bench.session) == ""


def test_an_open_gauge_line_must_show_zero(bench):
    bench.sign_in()
    bench.run(1)
    assert "passed" in check(bench, "gauge")
    bench.world.gauge.offset_pa = 20_000.0
    bench.run(1)
    assert "FAILED" in check(bench, "gauge")


@pytest.mark.parametrize("nominal", ["", "heavy", "200 mL", "-"])
def test_a_nominal_that_is_no_mass_is_refused(bench, nominal):
    bench.sign_in()
    bench.run(2)
    with pytest.raises(StationError):
        check(bench, nominal=nominal)
    assert not bench.store.entries(kind=InstrumentChecked.kind)


def test_no_reading_no_check(bench):
    bench.sign_in()
    bench.unplugged.add("scale")
    bench.run(2)
    with pytest.raises(NotAllowedError, match="no valid reading"):
        check(bench, nominal="200 g")


def test_a_failed_check_holds_after_a_restart_until_one_passes(bench, tmp_path):
    bench.work_to(StepKind.WEIGH)
    bench.world.model.put_on_pan("check weight")
    bench.run(3)
    assert "FAILED" in check(bench, nominal="201 g")
    bench.store.close()
    again = make_bench(tmp_path)
    try:
        recover(again.session)
        again.sign_in()
        assert "failed its last check" in capture_locked(again.session)
        with pytest.raises(NotAllowedError, match="failed its last check"):
            again.session.act("capture", {})
        again.world.model.put_on_pan("check weight")
        again.run(3)
        assert "passed" in check(again, nominal="200 g")
        assert capture_locked(again.session) == ""
    finally:
        again.store.close()
