import random

import pytest

from benchstation.demo.recording import typed_at
from benchstation.domain.specification import StepKind
from tests.stepped_bench import make_bench


@pytest.mark.parametrize("family", ["mr-46-rear", "carrier-50"])
def test_the_technician_files_a_unit_of_every_kind_of_step(tmp_path, family):
    bench = make_bench(tmp_path)
    bench.work_to(None, family=family)
    record = bench.store.entries(kind="unit.filed")[0].event.record
    assert record["decision"] == "pass"
    assert not record["qa_hold"]
    route = bench.session.rebuild.specification.steps
    assert [s["id"] for s in record["steps"]] == [s.id for s in route[:-1]]
    assert bench.store.verify().problem == ""
    bench.store.close()


def test_what_is_typed_follows_the_plans_notes(tmp_path):
    bench = make_bench(tmp_path)
    bench.work_to(StepKind.PARTS, family="mr-46-rear")
    rebuild = bench.session.rebuild
    notes = {"kit": "K-77", "rod": "polished", "remarks": "look at the seat"}
    chance = random.Random(1)

    def typed(step_id):
        return typed_at(bench.session, rebuild, rebuild.specification.step(step_id), notes, chance)

    assert typed("parts")["lot1"] == "K-77-RS-14"
    assert typed("rod") == {"choice1": "polished"}
    assert typed("remarks") == {"text1": "look at the seat"}
    torque = float(typed("screw")["torque1"].removesuffix(" N m"))
    assert 7.5 < torque < 8.5
    bench.store.close()
