"""The audit trail of a unit and of the shop in plain words, found, opened and written."""

import csv
import dataclasses
from datetime import UTC, datetime

import pytest

from benchstation.domain.events import EVENT_TYPES, PinRefused
from benchstation.domain.statements import Code, Statement
from benchstation.driver_api.errors import StationError
from benchstation.quantities.formatter import local_time
from benchstation.screens.audit.page import COLUMNS, Audit
from benchstation.screens.audit.words import TITLES, details, sentence, title_of
from benchstation.store.errors import NotOnRecordError
from tests.import_reader import ROOT
from tests.samples import sample_of
from tests.stepped_bench import make_bench

HIDDEN = ("pin_hash", "badge_hash", "salt", "raw", "public_key", "record", "content")


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    made = make_bench(tmp_path_factory.mktemp("bench"))
    made.work_to(None, serial="MR-1")
    yield made
    made.store.close()


@pytest.fixture
def audit(bench):
    return Audit(bench.store)


@pytest.mark.parametrize("kind", sorted(EVENT_TYPES))
def test_every_kind_is_said_in_words_and_no_secret_is(kind):
    title = title_of(kind)
    assert not set("._{}[]") & set(title)
    event = sample_of(EVENT_TYPES[kind])
    secret = "s3cret"
    names = [field.name for field in dataclasses.fields(event)]
    marked = {name: secret for name in names if name in HIDDEN}
    worn = Statement.of(Code.TEXT, text="worn")
    stated = {name: worn for name in names if isinstance(getattr(event, name), Statement)}
    said = sentence(dataclasses.replace(event, **marked, **stated), {})
    assert not stated or "worn" in said
    assert secret not in said
    assert not set("{}[]") & set(said), "no raw JSON"


def test_a_title_begins_as_a_sentence_and_keeps_its_capitals(bench):
    bench.session.note(PinRefused("kofler", "Sign in", 1))
    rows = Audit(bench.store).find("pin or").rows
    assert {row.title for row in rows} == {"PIN or badge refused"}


def test_only_kinds_that_there_are_have_titles():
    assert set(TITLES) <= set(EVENT_TYPES)


def test_a_units_trail_is_whole_and_names_who_and_what(bench, audit):
    unit = bench.store.entries(kind="unit.opened")[0].event.unit_id
    rows, before = [], ""
    while True:
        view = audit.find(f"unit:{unit}", before)
        rows += view.rows
        before = view.before
        if not before:
            break
    assert len(rows) == len(bench.store.entries(unit_id=unit))
    assert [row.title for row in (rows[0], rows[-1])] == ["Unit filed", "Unit opened"]
    assert rows[-1].beside == "Mira Kofler"
    assert "serial MR-1" in rows[-1].below[1]
    assert audit.find("serial:mr-1").rows[0] == rows[0]
    detail = audit.open(rows[-1].key)
    terms = {term.label: term.value for group in detail.groups for term in group.terms}
    assert terms["Serial"] == "MR-1"
    assert terms["Who"] == "Mira Kofler"
    assert len(terms["Hash"]) == 64


def test_entries_are_found_by_what_they_are_called_by_whom_and_when(bench, audit):
    assert {row.title for row in audit.find("unit opened").rows} == {"Unit opened"}
    assert {row.title for row in audit.find("step").rows} == {"Step signed"}
    mine = audit.find("by:mira").rows
    assert mine
    assert {row.beside for row in mine} == {"Mira Kofler"}
    assert audit.find("to:2000").rows == []
    assert audit.find("from:2000").rows
    for text, said in (
        ("polished", "No kind of entry is called “polished”."),
        ("by:nobody", "By: nobody enrolled is called “nobody”."),
        ("serial:none", "Serial: “none” is not on record."),
        ("qa:released", "QA: the trail is narrowed by from, to, serial, unit, by alone."),
        ("by:mira lot:l", "Oil lot: the trail is narrowed by from, to, serial, unit, by alone."),
        ("from:x", "From: “x” is no day. Write 2026-11-30 or 2026-11."),
    ):
        view = audit.find(text)
        assert (view.rows, view.said) == ((), said)
    with pytest.raises(NotOnRecordError):
        audit.open("bench-2 999999")


def test_it_is_written_with_the_head_up_to_which_it_tells(bench, audit, tmp_path):
    (path,) = audit.write("by:mira", tmp_path, bench.clock.utc())
    lines = path.read_text("utf-8").splitlines()
    assert lines[0] == "# Audit trail: by mira"
    assert lines[1].endswith(bench.store.head()[1])
    rows = list(csv.DictReader(lines[2:]))
    assert tuple(rows[0]) == tuple(COLUMNS)
    assert {row["who"] for row in rows} == {"Mira Kofler"}
    by_seq = {entry.seq: entry for entry in bench.store.entries()}
    assert [by_seq[int(row["entry"])].hash for row in rows] == [row["hash"] for row in rows]
    with pytest.raises(StationError, match="nobody enrolled"):
        audit.write("by:nobody", tmp_path, bench.clock.utc())


def test_the_help_says_of_each_column_what_stands_in_it():
    help_text = (ROOT / "resources/help/records.md").read_text("utf-8")
    for name, what in COLUMNS.items():
        assert f"`{name}`: {what}" in help_text


def test_a_sign_in_names_the_person_and_a_qa_word_the_standing():
    disposed = EVENT_TYPES["unit.disposed"]("u1", "released alone", "seen")
    assert dict(details(disposed, {}))["QA"] == "released, not independent"
    signed = EVENT_TYPES["person.signed_in"]("anna", "PIN")
    assert dict(details(signed, {"anna": "Anna Ruiz"}))["person"] == "Anna Ruiz"


@pytest.mark.parametrize(
    ("kind", "figures", "said"),
    [
        ("charge.captured", {"settled_gauge_pa": 15.02e5, "gauge_pa": 15.4e5},
         {"settled at": "15.02 bar gauge"}),
        ("line.fell", {"from_gauge_pa": 15e5, "to_gauge_pa": 0.0},
         {"from": "15.00 bar gauge", "to": "0.00 bar gauge"}),
        ("oil.judged", {"net_shown_kg": 0.2213}, {"net": "221.30 g"}),
        ("weigh.captured", {"shown_kg": 0.2213}, {"scale shows": "221.30 g"}),
        ("unit.temperature", {"value_k": 294.15}, {"": "21.0 °C"}),
    ],
)  # fmt: skip
def test_an_entry_about_a_figure_shows_it(kind, figures, said):
    event = dataclasses.replace(sample_of(EVENT_TYPES[kind]), **figures)
    found = dict(details(event, {}))
    assert said.items() <= found.items()
    assert "15.40 bar gauge" not in found.values(), "it was judged as settled"


def test_the_trail_tells_since_when_a_unit_is_in_the_room():
    stay = EVENT_TYPES["unit.in_room"]("u1", "step", "2026-03-03T23:59:00+00:00", 5.0)
    assert local_time(datetime(2026, 3, 3, 23, 59, tzinfo=UTC)) in sentence(stay, {})
