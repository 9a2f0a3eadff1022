import dataclasses
import json
from typing import ClassVar

import pytest

from benchstation.domain.events import EVENT_TYPES, Event, EventError, event_from, stored_body
from benchstation.domain.events.base import FORM
from benchstation.domain.events.upgrades import UPGRADES
from tests.samples import sample_of


@pytest.mark.parametrize("kind", sorted(EVENT_TYPES))
def test_every_event_survives_json(kind):
    event = sample_of(EVENT_TYPES[kind])
    assert event.kind == kind
    assert event_from(kind, json.loads(json.dumps(stored_body(event)))) == event


def test_kinds_are_unique_and_plain():
    assert len(set(EVENT_TYPES)) == len(EVENT_TYPES) >= 20
    assert all(part.islower() for kind in EVENT_TYPES for part in kind.split("."))


REFUSED = pytest.mark.parametrize(
    ("kind", "body", "said"),
    [
        ("unit.polished", {}, "'unit.polished' that this version does not know"),
        ("unit.polished", {"form": 2}, "'unit.polished' that this version does not know"),
        ("unit.abandoned", {"unit_id": "u", "reason": "x", "form": 9}, "of form 9; .* form 1"),
        ("unit.abandoned", {"unit_id": "u", "reason": "x", "b": 1, "a": 2}, "not know: a, b"),
        (
            "weigh.tare_lost",
            {"unit_id": "u", "step_id": "oil", "reason": "x", "uncaptured": 1},
            "not know: uncaptured",
        ),
    ],
)


@REFUSED
def test_what_a_newer_version_wrote_is_refused_in_words(kind, body, said):
    with pytest.raises(EventError, match=said) as raised:
        event_from(kind, body)
    assert raised.value.where == "journal"
    assert raised.value.advice == "Update this program; the file is left as it is."


@pytest.mark.parametrize("form", [0, 1, -1, "2", 2.0, True, None])
def test_a_form_that_is_no_number_from_two_on_is_refused(form):
    with pytest.raises(EventError, match="names no form"):
        event_from("unit.abandoned", {"unit_id": "u", "reason": "x", "form": form})


def test_no_event_has_a_field_of_the_name_that_the_form_is_stored_under():
    for cls in EVENT_TYPES.values():
        assert FORM not in {field.name for field in dataclasses.fields(cls)}


def test_every_older_form_has_its_way_up_and_no_way_leads_nowhere():
    ways = {(kind, form) for kind, cls in EVENT_TYPES.items() for form in range(1, cls.form)}
    assert set(UPGRADES) == ways


@dataclasses.dataclass(frozen=True, slots=True)
class Polished(Event):
    """An event whose shape changed twice: a number of strokes became a length, then got a tool."""

    kind: ClassVar[str] = "unit.polished"
    form: ClassVar[int] = 3
    length_m: float
    tool: str


@pytest.fixture
def polished(monkeypatch):
    monkeypatch.setitem(EVENT_TYPES, "unit.polished", Polished)
    ways = {
        ("unit.polished", 1): lambda body: {"length_m": body["strokes"] * 0.1},
        ("unit.polished", 2): lambda body: {**body, "tool": ""},
    }
    for key, way in ways.items():
        monkeypatch.setitem(UPGRADES, key, way)


@pytest.mark.parametrize(
    ("body", "event"),
    [
        ({"strokes": 20}, Polished(2.0, "")),
        ({"length_m": 2.0, "form": 2}, Polished(2.0, "")),
        ({"length_m": 2.0, "tool": "felt", "form": 3}, Polished(2.0, "felt")),
    ],
)
def test_an_older_form_is_read_through_every_way_up(polished, body, event):
    assert event_from("unit.polished", body) == event


def test_what_is_stored_names_its_form_from_the_second_on(polished):
    event = Polished(2.0, "felt")
    assert stored_body(event) == {"length_m": 2.0, "tool": "felt", "form": 3}
    assert event_from("unit.polished", stored_body(event)) == event
    abandoned = event_from("unit.abandoned", {"unit_id": "u", "reason": "x"})
    assert stored_body(abandoned) == {"unit_id": "u", "reason": "x"}


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ({"length_m": 2.0, "form": 3}, "lacks fields: tool"),
        ({"form": 1.5}, "names no form"),
        ({}, "does not have the form"),
        ({"strokes": "many"}, "does not have the form"),
        ({"strokes": 20, "tool": "felt", "length_m": 1.0, "form": 3}, "not know: strokes"),
    ],
)
def test_an_older_form_that_is_not_as_it_should_be_is_refused(polished, body, said):
    with pytest.raises(EventError, match=said):
        event_from("unit.polished", body)


@pytest.mark.parametrize("body", [{}, {"unit_id": "u"}, {"unit_id": 3, "reason": "x"}])
def test_a_body_of_another_form_is_refused(body):
    with pytest.raises(EventError, match=r"unit\.abandoned"):
        event_from("unit.abandoned", body)
