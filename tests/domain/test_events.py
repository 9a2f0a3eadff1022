import dataclasses
import json

import pytest

from benchstation.domain.events import EVENT_TYPES, EventError, event_from

SAMPLE = {
    "str": "x",
    "float": 1.5,
    "int": 3,
    "bool": True,
    "tuple[str, ...]": ["a", "b"],
    "float | None": None,
    "bool | None": None,
    "dict[str, Any]": {"a": 1},
    "tuple[dict[str, Any], ...]": [{"name": "n"}],
}


def sample_body(cls):
    names = {f.name: f.type if isinstance(f.type, str) else str(f.type) for f in
             dataclasses.fields(cls)}  # fmt: skip
    plain = {"<class 'str'>": "str", "<class 'float'>": "float", "<class 'int'>": "int",
             "<class 'bool'>": "bool"}  # fmt: skip
    cleaned = {n: plain.get(t, t.replace("typing.", "")) for n, t in names.items()}
    return {name: SAMPLE[text] for name, text in cleaned.items()}


@pytest.mark.parametrize("kind", sorted(EVENT_TYPES))
def test_every_event_survives_json(kind):
    event = event_from(kind, sample_body(EVENT_TYPES[kind]))
    assert event.kind == kind
    assert event_from(kind, json.loads(json.dumps(event.body()))) == event


def test_kinds_are_unique_and_plain():
    assert len(set(EVENT_TYPES)) == len(EVENT_TYPES) >= 20
    assert all(part.islower() for kind in EVENT_TYPES for part in kind.split("."))


def test_an_unknown_kind_is_refused_in_words():
    with pytest.raises(EventError, match="version that wrote it"):
        event_from("unit.polished", {})


@pytest.mark.parametrize("body", [{}, {"unit_id": "u"}, {"unit_id": 3, "reason": "x"}])
def test_a_body_of_another_form_is_refused(body):
    with pytest.raises(EventError, match=r"unit\.abandoned"):
        event_from("unit.abandoned", body)
