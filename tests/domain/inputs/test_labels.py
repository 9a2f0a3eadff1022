"""A label is text of its author, never a key: whatever it says, it names nothing of ours."""

import tomllib
from importlib.resources import files

import pytest

from benchstation.domain.events import RebuildOpened, StepSigned, event_from
from benchstation.domain.inputs.given import GasSeen, GaugeNow
from benchstation.domain.rebuild import apply, fold
from benchstation.domain.signing import BenchNow, sign_step
from benchstation.domain.specification import specification_from
from benchstation.store.projections import instruments_of

KEYS = [
    "qa_hold", "gauge_pa", "band_pa", "instrument_id", "decision", "deviation", "measured_m",
    "line", "choice", "chosen", "text", "parts", "stacks", "photos", "charge", "hold", "confirmed",
]  # fmt: skip
"""What the program once read in the same mapping as the labels, and what it says itself."""


@pytest.fixture
def content():
    path = files("resources") / "demo" / "specifications" / "mr-46-front.toml"
    return tomllib.loads(path.read_text("utf-8"))


def opened(content, fact):
    spec = specification_from(content)
    first = RebuildOpened("u1", "MR-1", spec.family, spec.id, spec.revision, "L-0417")
    return fold([fact(first)], spec)


@pytest.mark.parametrize("key", KEYS)
def test_a_line_labelled_like_a_key_is_its_text_and_nothing_else(content, fact, key):
    content["steps"][0]["notes"] = [{"id": "n", "label": key}]
    state = opened(content, fact)
    (event,) = sign_step(state, {"confirm1": "yes", "note1": "weeping"})
    after = apply(state, fact(event))
    assert after.hold_reasons == ()
    assert instruments_of(event) == set()
    noted = event.evidence[-1]
    assert (noted.type, noted.input, noted.label, noted.text) == ("line", "note1", key, "weeping")


@pytest.mark.parametrize("key", KEYS)
def test_a_statement_labelled_like_a_key_is_confirmed_and_nothing_else(content, fact, key):
    content["steps"][0]["confirmations"] = [key]
    state = opened(content, fact)
    (event,) = sign_step(state, {"confirm1": "yes", "note1": "weeping"})
    assert apply(state, fact(event)).hold_reasons == ()
    assert [r.label for r in event.evidence if r.type == "confirm"] == [key]


def test_labels_beside_a_reading_change_nothing_of_it(content, fact):
    step = next(s for s in content["steps"] if s["kind"] == "release")
    step["notes"] = [{"id": f"n{n}", "label": key} for n, key in enumerate(KEYS)]
    content["steps"].remove(step)
    content["steps"].insert(0, step)
    state = opened(content, fact)
    typed = {f"note{n}": "4711" for n in range(1, len(KEYS) + 1)}
    now = BenchNow(gauge=GaugeNow(120.0, "gauge-1", seen=GasSeen(12e5, 11e5)))
    (event,) = sign_step(state, {"confirm1": "yes", **typed}, now)
    zero = event.evidence[0]
    assert (zero.gauge_pa, zero.instrument_id) == (120.0, "gauge-1")
    assert instruments_of(event) == {"gauge-1"}
    assert [r.label for r in event.evidence if r.type == "line"] == KEYS


@pytest.mark.parametrize("name", ["units", "reason", "pin", "step", "old", "value1", "confirm1"])
def test_an_authors_id_names_no_field_of_the_form(content, fact, name):
    content["steps"][0]["notes"] = [{"id": name, "label": "Condition", "required": True}]
    state = opened(content, fact)
    assert [asked.name for asked in state.current.asked] == ["confirm1", "note1"]
    (event,) = sign_step(state, {"confirm1": "yes", "note1": "weeping"})
    assert event.evidence[-1].text == "weeping"


@pytest.mark.parametrize("key", KEYS)
def test_an_old_mapping_with_such_a_label_reads_as_label_and_text(key):
    body = {
        "unit_id": "u1",
        "step_id": "intake",
        "summary": f"{key}: 12 bar, look at it",
        "evidence": {"Serial agrees": "confirmed", key: "12 bar, look at it"},
    }
    event = event_from(StepSigned.kind, body)
    found = {(r.type, r.label): getattr(r, "text", "") for r in event.evidence}
    assert found["line", key] == "12 bar, look at it"
    assert ("confirm", "Serial agrees") in found
    assert {r.type for r in event.evidence} == {"said", "confirm", "line"}
    assert instruments_of(event) == set()
