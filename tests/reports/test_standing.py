"""QA's word reaches every paper: one function gives the standing, and all of them ask it."""

import json
from dataclasses import replace
from datetime import timedelta

import pytest
from pypdf import PdfReader

from benchstation.demo import shop as demo
from benchstation.domain.disposition import Standing
from benchstation.domain.events import RebuildOpened, UnitDisposed
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.reports.certificate import write_certificate
from benchstation.reports.export import filed_record, write_json
from benchstation.reports.label import label_lines
from benchstation.reports.paper import verdict_in_words
from benchstation.reports.record_check import ChangedError, against_journal, exported_in
from benchstation.screens.model.elements import Tone
from benchstation.screens.records.page import Records
from tests.stepped_bench import START, make_bench

RELEASED, HELD, REJECTED = "released", "held", "rejected"


def one_filed(folder):
    """A store with one unit filed as pass, on which QA has said nothing yet."""
    bench = make_bench(folder)
    bench.work_to(None, serial="S-1")
    yield bench.store
    bench.store.close()


@pytest.fixture(scope="module")
def filed_store(tmp_path_factory):
    """That store, for all who only let QA say something else."""
    yield from one_filed(tmp_path_factory.mktemp("standing"))


@pytest.fixture
def own_store(tmp_path_factory):
    """Such a store for one test alone: what is superseded stays so."""
    yield from one_filed(tmp_path_factory.mktemp("own"))


def papers(store, folder):
    unit = store.entries(kind="unit.filed")[0].event.unit_id
    filed = filed_record(store, unit)
    certificate = write_certificate(filed, folder / "a.pdf")
    text = "\n".join(page.extract_text() for page in PdfReader(certificate).pages)
    label = label_lines(filed, QuantityFormatter(UnitSystem.METRIC))[-1]
    exported = write_json(filed, folder / "a.json")
    checked = against_journal(exported_in(exported.read_bytes(), "a.json"), store, "a.json")
    assert checked.proven
    data = json.loads(exported.read_text("utf-8"))
    row = next(row for row in Records(store).find("S-1") if row.unit_id == unit)
    return text, label, data["standing"], row


def say(store, word, reason):
    unit = store.entries(kind="unit.filed")[-1].event.unit_id
    store.append([UnitDisposed(unit, word, reason)], person=demo.QA, utc=START)


def test_a_pass_that_nobody_released_is_neither_green_nor_bare(filed_store, tmp_path):
    text, label, standing, row = papers(filed_store, tmp_path)
    assert "not released yet" in text
    assert label == "PASS, NOT RELEASED YET"
    assert standing["now"] == Standing.NOT_RELEASED
    assert standing["qa"] == []
    assert (row.decision, row.state) == ("pass", "not released yet")
    assert row.tone is Tone.QUIET


@pytest.mark.parametrize(
    ("word", "label", "tone"),
    [
        (REJECTED, "REJECTED; JUDGED PASS", Tone.DANGER),
        (HELD, "ON HOLD; JUDGED PASS", Tone.CAUTION),
        (RELEASED, "PASS, RELEASED", Tone.GOOD),
    ],
)
def test_each_word_of_qa_is_on_every_paper_and_in_the_list(
    filed_store, tmp_path, word, label, tone
):
    say(filed_store, word, f"because it is {word}")
    text, written, standing, row = papers(filed_store, tmp_path)
    assert f"because it is {word}" in text
    assert written == label
    assert standing["qa"][-1]["reason"] == f"because it is {word}"
    assert standing["qa"][-1]["person"] == filed_store.people()[demo.QA].name
    assert standing["told_to_entry"] == filed_store.head()[0]
    assert row.tone is tone
    stopped = word in (REJECTED, HELD)
    assert row.line.state == (standing["now"] if stopped else "pass"), "what stands comes first"
    assert row.line.note == ("judged pass" if stopped else word)
    assert f"as of entry {filed_store.head()[0]}" in text


def rebuild_again(store):
    """Return the entry that files the serial once more, nine days later."""
    old = store.entries(kind=RebuildOpened.kind)[0].event
    filing = store.entries(kind="unit.filed")[0].event
    again = [replace(old, unit_id="again"), replace(filing, unit_id="again")]
    return store.append(again, person=demo.QA, utc=START + timedelta(days=9))[-1]


def test_a_unit_that_was_rebuilt_again_is_superseded_everywhere(own_store, tmp_path):
    say(own_store, RELEASED, "complete")
    released = exported_in(papers_of(own_store, tmp_path).read_bytes(), "a.json")
    filing = own_store.entries(kind="unit.filed")[0].event
    entry = rebuild_again(own_store)
    text, label, standing, row = papers(own_store, tmp_path)
    assert label == "SUPERSEDED; JUDGED PASS"
    assert "SUPERSEDED" in text
    assert f"{entry.bench} entry {entry.seq}. Before, this record stood as released." in flat(text)
    assert standing["now"] == "superseded"
    assert standing["superseded"]["entry"] == entry.seq
    assert standing["superseded"]["stood"] == "released"
    assert (row.line.state, row.line.note) == ("superseded", "judged pass")
    assert row.tone is Tone.QUIET
    unit = filing.unit_id
    detail = Records(own_store).open(unit, QuantityFormatter(UnitSystem.METRIC))
    assert (detail.front.verdict, detail.front.tone) == ("superseded", Tone.QUIET)
    assert any("rebuilt again" in words for words, _ in detail.front.open_points)
    acts = {act.id: act.why_not for act in (*detail.actions, *detail.acts) if not act.enabled}
    assert acts["released"] == acts["ship"] == "it is superseded"
    # What was exported before stays sound, and says that more is known.
    found = against_journal(released, own_store, "a.json")
    assert found.proven
    assert found.later.startswith("SUPERSEDED since")


def test_an_export_of_before_such_words_is_sound_still(own_store, tmp_path):
    """Form 3 did not tell of later rebuilds: what it says of a superseded unit was so."""
    say(own_store, RELEASED, "complete")
    rebuild_again(own_store)
    data = exported_in(papers_of(own_store, tmp_path).read_bytes(), "a.json")
    standing = {**data["standing"], "now": data["standing"]["superseded"]["stood"]}
    del standing["superseded"]
    data |= {"form": 3, "schema": "exported-record-3.schema.json", "standing": standing}
    assert against_journal(data, own_store, "a.json").proven
    standing["now"] = "shipped"
    with pytest.raises(ChangedError, match=r"standing\.now"):
        against_journal(data, own_store, "a.json")


def papers_of(store, folder):
    unit = store.entries(kind="unit.filed")[0].event.unit_id
    return write_json(filed_record(store, unit), folder / "b.json")


def flat(text):
    return " ".join(text.split())


def test_the_words_put_what_stops_the_unit_first():
    assert verdict_in_words("pass", Standing.REJECTED) == "rejected; judged pass"
    assert verdict_in_words("deviation", Standing.NOT_RELEASED) == "deviation, not released yet"
