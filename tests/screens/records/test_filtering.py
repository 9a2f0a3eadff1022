"""A question's filters: written, read, meant by ids and keys, refused in words, said and saved."""

import re

import pytest

from benchstation.domain.disposition import Standing
from benchstation.domain.events import SearchSaved
from benchstation.driver_api.errors import StationError
from benchstation.screens.model.filters import (
    LABELS,
    SAVED,
    WORDS,
    Question,
    filtered,
    question_from,
    question_in,
)
from benchstation.screens.records.filter_form import filter_form
from benchstation.screens.records.page import Records
from benchstation.store.notices import saved_searches
from tests.stepped_bench import make_bench

NAMED = [name for name in LABELS if name != "by"]
NO_SUCH_VERDICT = (
    'Verdict: write "pass", "deviation". A unit filed with a figure that fails or is undecided is '
    "a deviation."
)


@pytest.fixture(scope="module")
def records(tmp_path_factory):
    """One filed unit, read by every test here."""
    bench = make_bench(tmp_path_factory.mktemp("bench"))
    bench.work_to(None, serial="MR-77/a")
    yield Records(bench.store)
    bench.store.close()


@pytest.mark.parametrize(
    "question",
    [
        Question("", {}),
        Question("MR 46", {"qa": "on hold"}),
        Question("", {"serial": 'a "b" c', "lot": '"', "from": "2026-11"}),
        Question('lot "K-6"', {"filed": "mira"}),
        Question("x:y state", {}),
        Question("", dict.fromkeys(LABELS, "a b")),
    ],
)
def test_a_question_is_read_back_as_it_is_written(question):
    assert question_in(question.text) == question
    fields = {WORDS: question.words, **question.filters, SAVED: "state:open"}
    assert question_from(fields) == (question.text or "state:open")


def test_a_question_says_what_it_asks():
    assert question_in('mr QA:released from:2026-11 filed:""').in_words == (
        "“mr”, from 2026-11, QA released"
    )
    assert filtered(qa="on hold", unit="u1") == 'qa:"on hold" unit:u1'


@pytest.mark.parametrize(
    "text",
    [
        "state:filed", "verdict:pass", "qa:not", "family:rescue", "serial:mr-77/A", "serial:MR",
        "opened:mira", "signed:kofler", "filed:Mira", "lot:l-0417", "part:k",
        "instrument:gauge", "deviation:no", "to:2099", "from:2000 to:2099", "2026 state:filed",
        "kofler serial:mr", 'state:"open or filed"',
    ],
)  # fmt: skip
def test_a_filter_finds_what_fits_and_says_how_many(records, text):
    assert [row.serial for row in records.find(text)] == ["MR-77/a"], records.about(text)
    question = question_in(text)
    said = f"{question.in_words}: one unit." if not question.words else f"of {question.in_words}."
    assert records.about(text).casefold() == said.casefold()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("state:aside", "State aside: no unit."),
        ("qa:released", "QA released: no unit."),
        ("verdict:deviation family:rescue", "Verdict deviation, family rescue: no unit."),
        *((f"verdict:{word}", NO_SUCH_VERDICT) for word in ("fail", "undecided", "held")),
        ("deviation:yes", "Deviation yes: no unit."),
        ("to:2000", "To 2000: no unit."),
        ("from:2099-12 serial:mr", "From 2099-12, serial mr: no unit."),
        ("state:sold", 'State: write "open", "aside", "filed", "abandoned".'),
        ("from:yesterday", "From: “yesterday” is no day. Write 2026-11-30 or 2026-11."),
        ("from:2026-02 to:2026-01", "From lies after To."),
        ("filed:nobody", "Filed by: nobody enrolled is called “nobody”."),
        ("instrument:ga", "Instrument: at least 3 letters."),
        ("instrument:none", "Instrument: none on record is called “none”."),
        ('order:"a or b"', "Order: none on record begins with “a”."),
        ("lot:x", "Oil lot: none on record begins with “x”."),
    ],
)
def test_a_filter_that_finds_nothing_says_what_was_asked(records, text, said):
    assert records.find(text) == []
    assert records.about(text) == said


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("foo:bar", f"There is no filter “foo”. Filters are {', '.join(NAMED)}."),
        ("Serail:MR-77", "There is no filter “Serail”; the nearest is “serial”."),
        ("verdikt:pass state:filed", "There is no filter “verdikt”; the nearest is “verdict”."),
        ("mr größe:3", f"There is no filter “größe”. Filters are {', '.join(NAMED)}."),
        ("qa: released", "The filter “qa” lacks its value; write it right after the colon."),
    ],
)
def test_a_filter_that_is_none_is_named_and_nothing_is_listed(records, text, said):
    assert records.find(text) == []
    said = f"Nothing on record is called “{question_in(text).words}”. {said}"
    assert records.about(text) == said
    with pytest.raises(StationError) as refused:
        next(records.each(text))
    assert said in str(refused.value)


@pytest.mark.parametrize("text", ["m:1", "10:30", "-:", "mr", "a1:b"])
def test_a_colon_alone_makes_no_filter(records, text):
    assert "filter" not in records.about(text)


def test_what_is_on_record_with_a_colon_is_found_by_it(bench):
    bench.work_to(None, serial="REAR:77")
    records = Records(bench.store)
    for text in ("rear:77", "REAR:7", "rear:", "rear:77 state:filed"):
        assert [row.serial for row in records.find(text)] == ["REAR:77"]
        assert [unit.serial for unit in records.each(text)] == ["REAR:77"]
        assert "no filter" not in records.about(text)
    assert list(records.each("rear:77 state:aside")) == [], "it is on record, but not aside"


def test_a_filter_of_the_audit_trail_is_none_of_units(records):
    said = "By: this narrows the audit trail, not units; write opened, signed, filed or accepted."
    assert (records.find("by:mira"), records.about("by:mira")) == ([], said)


def test_the_filter_of_qa_knows_every_standing(records):
    said = records.about("qa:none")
    values = re.findall(r'"[^"]*"', said)
    assert said == f"QA: write {', '.join(values)}."
    assert values == [f'"{standing}"' for standing in Standing], "one may hold a comma"
    for value in values:
        assert records.about(f"qa:{value}").startswith("QA ")


def test_a_search_is_kept_by_whoever_is_signed_in(bench):
    bench.sign_in()
    session = bench.session
    me = session.person.person_id
    session.act("save_search", {"name": " on  hold ", "question": 'qa:"on hold"'})
    session.act("save_search", {"name": "mine", "question": f"filed:{me}"})
    bench.store.append(
        [SearchSaved("other", "theirs", "state:open")], person="other", utc=bench.clock.utc()
    )
    assert saved_searches(bench.store, me) == {"on hold": 'qa:"on hold"', "mine": f"filed:{me}"}
    form = filter_form(bench.store, session.person, f'filed:{me} MR qa:"lost"')
    fields = {field.id: field for field in form.fields}
    assert fields[SAVED].choices[1:] == ((f"filed:{me}", "mine"), ('qa:"on hold"', "on hold"))
    assert fields["filed"].value == me
    assert ("lost", "lost") in fields["qa"].choices, "what was typed stays"
    session.act("save_search", {"name": "mine"})
    assert list(saved_searches(bench.store, me)) == ["on hold"]
    with pytest.raises(Exception, match="name of at most"):
        session.act("save_search", {"name": "x" * 61, "question": "a"})
    for number in range(39):
        session.act("save_search", {"name": f"n{number}", "question": "a"})
    with pytest.raises(Exception, match="40 searches already"):
        session.act("save_search", {"name": "one more", "question": "a"})
    assert {f.id for f in filter_form(bench.store, None, "").fields} == {*LABELS} - {"unit", "by"}
