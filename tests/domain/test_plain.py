import json

from benchstation.domain.events import TareLost, UnweighedUndone
from benchstation.domain.plain import plain
from benchstation.domain.statements import Code, Statement, Undone
from benchstation.domain.unit_record import UnitRecord
from tests.samples import sample_of


def test_values_within_values_become_plain_json():
    lost = TareLost("u1", "oil", Statement.of(Code.NO_READING, seconds=1.5), 0.08)
    assert plain(lost) == {
        "unit_id": "u1",
        "step_id": "oil",
        "reason": {"code": "no_reading", "values": {"seconds": 1.5}},
        "uncaptured_kg": 0.08,
    }
    assert type(plain(lost)["reason"]["code"]) is str
    undone = UnweighedUndone((Undone.PUT_BACK,), (lost.reason,), "ines")
    assert plain(undone)["statements"] == ["put_back"]
    assert json.dumps(plain(undone))


def test_a_record_is_the_same_json_by_either_way():
    record = sample_of(UnitRecord)
    assert plain(record) == record.as_json()
    assert json.loads(json.dumps(record.as_json())) == record.as_json()
