"""A unit on the bench whose records were put back: what was done since is on no record."""

import pytest

from benchstation.bench.tare_loss import recover
from benchstation.demo import shop as demo
from benchstation.domain.events import BenchKeyMade, LossAccepted
from benchstation.domain.specification import StepKind
from benchstation.domain.statements import Code, Statement
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.domain.unit_record import record_in
from tests.oil_hands import act
from tests.stepped_bench import make_bench

LOST = LossAccepted(40, 60, "0" * 64, "2026-03-03T09:00:00Z", "the disk broke")
KEY = BenchKeyMade("b" * 64, "a" * 64, "another computer")
LACKS = Statement(Code.RECORDS_LACK)


def put_back(bench, folder, fact):
    """Start the station anew with records that a lead went on with."""
    bench.store.append([fact], person=demo.LEAD, utc=bench.clock.utc())
    bench.store.close()
    again = make_bench(folder, goes_on=bench)
    recover(again.session)
    again.run(1)
    again.sign_in()
    return again


@pytest.mark.parametrize("fact", [LOST, KEY])
def test_between_release_and_charge_the_gas_is_proven_out_anew(bench, tmp_path, fact):
    """The copy was of the strip-down; the unit may have been charged since."""
    bench.work_to(StepKind.PARTS)
    again = put_back(bench, tmp_path, fact)
    unit = again.session.unit()
    assert unit.proof_due
    assert "entries may be missing" in unit.asides[-1].reason
    with pytest.raises(NotAllowedError, match="not proven out any more"):
        act(again, "sign", note1="x")
    again.store.close()
    once_more = make_bench(tmp_path, goes_on=again)
    recover(once_more.session)
    assert len(once_more.session.unit().asides) == 1, "it is said once"
    once_more.store.close()


def test_oil_that_may_be_in_the_unit_is_undone_before_the_tare_and_it_is_filed_on_hold(
    bench, tmp_path
):
    bench.work_to(StepKind.WEIGH)
    again = put_back(bench, tmp_path, LOST)
    assert [doubt.reason for doubt in again.session.unit().unweighed] == [LACKS]
    act(again, "prove", confirm1="yes")
    act(again, "tare")
    assert "Oil may be not captured" in again.session.message.text
    act(again, "tare", emptied1="yes")
    again.work_to(None)
    filed = again.store.entries(kind="unit.filed")[-1].event
    assert filed.qa_hold
    assert LACKS in record_in(filed.record).qa_hold_reasons
    again.store.close()


def test_a_bench_without_a_loss_goes_on_as_ever(bench, tmp_path):
    bench.work_to(StepKind.PARTS)
    again = put_back(bench, tmp_path, BenchKeyMade("b" * 64))
    assert again.session.unit().asides == ()
    again.store.close()
