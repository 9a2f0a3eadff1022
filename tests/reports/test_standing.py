"""QA's word reaches every paper: one function gives the standing, and all of them ask it."""

import json

import pytest
from pypdf import PdfReader

from benchstation.demo import shop as demo
from benchstation.domain.disposition import Standing
from benchstation.domain.events import UnitDisposed
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.reports.certificate import write_certificate
from benchstation.reports.export import filed_record, write_json
from benchstation.reports.label import label_lines
from benchstation.reports.paper import verdict_in_words
from benchstation.reports.record_check import against_journal, exported_in
from benchstation.screens.model.elements import Tone
from benchstation.screens.records.page import Records
from tests.stepped_bench import START, make_bench

RELEASED, HELD, REJECTED = "released", "held", "rejected"


@pytest.fixture(scope="module")
def filed_store(tmp_path_factory):
    """A store with one unit filed as pass, on which QA has said nothing yet."""
    bench = make_bench(tmp_path_factory.mktemp("standing"))
    bench.work_to(None, serial="S-1")
    yield bench.store
    bench.store.close()


def papers(store, folder):
    unit = store.entries(kind="unit.filed")[-1].event.unit_id
    filed = filed_record(store, unit)
    certificate = write_certificate(filed, folder / "a.pdf")
    text = "\n".join(page.extract_text() for page in PdfReader(certificate).pages)
    label = label_lines(filed, QuantityFormatter(UnitSystem.METRIC))[-1]
    exported = write_json(filed, folder / "a.json")
    checked = against_journal(exported_in(exported.read_bytes(), "a.json"), store, "a.json")
    assert checked.proven
    data = json.loads(exported.read_text("utf-8"))
    (row,) = Records(store).find("S-1")
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
    assert (row.state, row.tone) == ("not released yet", Tone.QUIET)


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
    assert f"as of entry {filed_store.head()[0]}" in text


def test_the_words_put_what_stops_the_unit_first():
    assert verdict_in_words("pass", Standing.REJECTED) == "rejected; judged pass"
    assert verdict_in_words("deviation", Standing.NOT_RELEASED) == "deviation, not released yet"
