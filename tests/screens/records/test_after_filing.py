"""What became of a filed unit stands on its record: amended, shipped, returned, told or not."""

from dataclasses import replace
from datetime import timedelta

import pytest

from benchstation.demo import shop as demo
from benchstation.domain.events import (
    UnitAmended,
    UnitDisposed,
    UnitReturned,
    UnitShipped,
)
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.reports.export import filed_record
from benchstation.screens.model.elements import Tone
from benchstation.screens.records.front import NOTHING_OPEN
from benchstation.screens.records.page import Records
from tests.samples import sample_of
from tests.stepped_bench import START, make_bench

METRIC, INCH = QuantityFormatter(UnitSystem.METRIC), QuantityFormatter(UnitSystem.INCH_POUND)
REASON = "typed wrong"


@pytest.fixture
def filed_bench(tmp_path):
    bench = make_bench(tmp_path)
    bench.work_to(None, serial="A-1")
    yield bench
    bench.store.close()


@pytest.fixture
def on_record(filed_bench):
    """Put facts about the filed unit on record, a minute apart; return its record, opened."""
    store = filed_bench.store
    unit = store.entries(kind="unit.filed")[-1].event.unit_id
    said = []

    def put(*events, words=METRIC):
        for event in events:
            said.append(event)
            when = START + timedelta(minutes=len(said))
            store.append([replace(event, unit_id=unit)], person=demo.QA, utc=when)
        return Records(store).open(unit, words)

    return put


def amended(field="position", old="", new="front left", decision=""):
    return UnitAmended("", field, old, new, REASON, demo.LEAD, decision)


def shipped():
    return replace(sample_of(UnitShipped), customer="Kim", order="WO-7", package="4G", un="UN3164")


def released():
    return UnitDisposed("", "released", "complete")


def test_a_record_as_it_was_filed_says_nothing_of_amendments(on_record):
    front = on_record().front
    assert front.amended == ""
    assert front.open_points == (NOTHING_OPEN,)


def test_an_amendment_stands_on_the_card_with_both_values_reason_and_who(filed_bench, on_record):
    detail = on_record(amended(), amended("order", "", "WO-7"))
    assert detail.front.amended == "amended, 2 of 2"
    first, second = (words for words, _ in detail.front.open_points)
    assert first.startswith("Amended, 1 of 2: Position: (empty) is amended to front left: ")
    assert REASON in second
    assert "WO-7" in second
    row = detail.later[0]
    assert row.title == "Amendment 1 of 2: Position"
    name = filed_bench.store.people()[demo.LEAD].name
    assert row.who.endswith(f"approved by {name}")


@pytest.mark.parametrize(("words", "unit"), [(METRIC, "N"), (INCH, "lbf")])
def test_an_amended_figure_is_told_in_the_units_of_who_reads_it_and_holds_the_unit(
    filed_bench, on_record, words, unit
):
    field, old = next(
        (f"{step.id}/{result.input}", result.value)
        for step in record_of(filed_bench).steps
        for result in step.evidence
        if getattr(result, "dimension", "") == "force"
    )
    detail = on_record(released(), amended(field, old, old + 10.0, "pass"), words=words)
    ((said, tone),) = detail.front.open_points
    assert f" {unit} is amended to " in said
    assert "judged pass" in said
    assert tone is Tone.CAUTION
    assert detail.front.verdict == "on hold"
    assert detail.front.tone is Tone.CAUTION


def record_of(bench):
    unit = bench.store.entries(kind="unit.filed")[-1].event.unit_id
    return filed_record(bench.store, unit).record


def test_a_shipped_unit_says_to_whom_and_what_its_customer_does_not_know(on_record):
    detail = on_record(released(), shipped())
    assert (detail.front.beside, detail.front.tone) == ("shipped", Tone.GOOD)
    assert any(words.startswith("Shipped to Kim, order WO-7") for words, _ in detail.front.said)
    detail = on_record(UnitDisposed("", "held", "look again"))
    assert (detail.front.verdict, detail.front.tone) == ("shipped, then on hold", Tone.CAUTION)
    assert ("Its customer is not told yet: on hold", Tone.CAUTION) in detail.front.open_points
    assert [row.title for row in detail.later] == ["QA: released", "Shipped", "QA: on hold"]


def test_a_returned_unit_says_the_complaint_and_what_was_found(on_record):
    detail = on_record(released(), shipped(), UnitReturned("", "knocks"))
    assert (detail.front.verdict, detail.front.tone) == ("returned", Tone.CAUTION)
    said = [words for words, tone in detail.front.open_points if tone is Tone.CAUTION]
    assert said[0].startswith("Returned: knocks; not examined yet (")
    assert detail.later[-1].title == "Returned"


def test_each_word_of_qa_stands_with_what_its_signature_means(on_record):
    row = on_record(released()).later[-1]
    assert 'signed: "I have examined the whole record and release this unit"' in row.words
