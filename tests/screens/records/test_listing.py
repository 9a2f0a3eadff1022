"""Lists of all that a question finds: CSV, PDF and JSON lines, and who was told of a unit."""

import csv
import hashlib
import json
from dataclasses import replace
from datetime import timedelta

import pytest

from benchstation.domain.events import (
    NoticeGiven,
    RebuildOpened,
    RecallListed,
    UnitDisposed,
    UnitFiled,
)
from benchstation.driver_api.errors import StationError
from benchstation.quantities.formatter import QuantityFormatter
from benchstation.quantities.units import UnitSystem
from benchstation.reports import unit_list
from benchstation.reports.unit_list import COLUMNS
from benchstation.screens.records.listing import write_list, write_records
from benchstation.screens.records.page import Records
from tests.reports.test_course_words import SENT
from tests.stepped_bench import make_bench

MANY = 130


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    """One unit rebuilt, and many more filed with its record; one serial is a formula."""
    made = make_bench(tmp_path_factory.mktemp("bench"))
    made.work_to(None, serial="MR-1")
    opened = made.store.entries(kind=RebuildOpened.kind)[0].event
    filed = made.store.entries(kind=UnitFiled.kind)[0].event
    for number in range(MANY - 1):
        unit, serial = f"u{number:03}", f"MR-{number + 2}" if number else "=1+1"
        events = [
            replace(opened, unit_id=unit, serial=serial, line=""),
            replace(filed, unit_id=unit, serial=serial),
        ]
        utc = made.clock.utc() + timedelta(minutes=number)
        made.store.append(events, person="kofler", utc=utc)
    yield made
    made.store.close()


def listed(bench, text, folder):
    given = {"shop": "Riverside", "person": "Jana Lead", "now": bench.clock.utc()}
    return write_list(Records(bench.store), text, folder, **given)


def rows_of(path):
    lines = path.read_text("utf-8").splitlines()
    head = [line for line in lines if line.startswith("#")]
    return head, list(csv.DictReader(lines[len(head) :]))


@pytest.mark.parametrize("text", ["state:filed", "mr", "", "mr verdict:pass", 'lot "L-0417"'])
def test_a_list_has_every_unit_once_with_question_and_head(bench, tmp_path, text):
    made = listed(bench, text, tmp_path)
    path, paper = made.paths
    head, rows = rows_of(path)
    wanted = MANY - 1 if text.startswith("mr") else MANY
    assert len({row["unit_id"] for row in rows}) == len(rows) == made.fact.units == wanted
    seq, own = bench.store.head()
    assert head[-1].startswith(f"# Tells up to: bench-2, entry {seq}, 20")
    assert head[-1].endswith(own)
    assert head[2] == f"# As typed: {text or 'nothing'}"
    assert made.fact.heads == (head[-1].removeprefix("# Tells up to: "),)
    assert made.fact.sha256 == hashlib.sha256(path.read_bytes()).hexdigest()
    assert tuple(rows[0]) == tuple(COLUMNS)
    assert paper.read_bytes().startswith(b"%PDF")
    bench.store.append([made.fact], person="lead", utc=bench.clock.utc())
    assert isinstance(bench.store.entries(kind=RecallListed.kind)[-1].event, RecallListed)


def test_no_serial_is_taken_for_a_formula(bench, tmp_path):
    _, rows = rows_of(listed(bench, "unit:u000", tmp_path).paths[0])
    assert [row["serial"] for row in rows] == ["'=1+1"]
    assert (rows[0]["verdict"], rows[0]["qa"]) == ("pass", "not released yet")
    assert float(rows[0]["net_oil_kg"] or 0) >= 0


def test_a_list_says_where_a_unit_stands_now_not_only_what_qa_said(bench, tmp_path):
    for word, then in (("released", [replace(SENT, unit_id="u001")]), ("rejected", [])):
        said = [UnitDisposed("u001", word, "seen"), *then]
        bench.store.append(said, person="anders", utc=bench.clock.utc() + timedelta(days=1))
    _, rows = rows_of(listed(bench, "unit:u001", tmp_path).paths[0])
    assert [row["qa"] for row in rows] == ["shipped, then rejected"]


def test_a_notice_stands_in_the_list_and_at_the_unit_when_they_are_opened_again(bench, tmp_path):
    records = Records(bench.store)
    notice = NoticeGiven("state:filed", "u003", "the fire brigade, by telephone")
    bench.store.append([notice], person="kofler", utc=bench.clock.utc())
    _, rows = rows_of(listed(bench, "serial:MR-5", tmp_path).paths[0])
    (row,) = rows
    assert row["told"].startswith("the fire brigade, by telephone (Mira Kofler, 20")
    told, untold = records.find("serial:MR-5")[0], records.find("serial:MR-6")[0]
    assert (told.told, untold.told) == (1, 0)
    assert told.line.below[0] == "told"
    later = records.open("u003", QuantityFormatter(UnitSystem.METRIC)).later
    assert [(one.title, one.words, one.who) for one in later] == [
        ("Told: the fire brigade, by telephone", "found by: state filed", "Mira Kofler")
    ]


def test_the_records_of_a_period_are_lines_of_json(bench, tmp_path):
    records = Records(bench.store)
    now = bench.clock.utc()
    path = write_records(records, "from:2000 to:2099 state:filed", tmp_path, now)
    lines = path.read_text("utf-8").splitlines()
    assert len(lines) == MANY
    assert {json.loads(line)["record"]["serial"] for line in lines} == {"MR-1"}
    assert write_records(records, "to:2000", tmp_path, now + timedelta(seconds=1)).read_text() == ""


def test_what_cannot_be_asked_is_not_listed(bench, tmp_path):
    with pytest.raises(StationError, match='State: write "open"'):
        listed(bench, "state:sold", tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_paper_that_ends_early_says_so(bench, tmp_path, monkeypatch):
    monkeypatch.setattr(unit_list, "MOST_ON_PAPER", 3)
    said = []
    monkeypatch.setattr(
        unit_list, "paragraph", lambda text, style, real=unit_list.paragraph: (
            said.append(text), real(text, style))[1],
    )  # fmt: skip
    listed(bench, "", tmp_path)
    assert "3 units; there are more, which the CSV lists" in said


def test_a_list_of_records_that_grow_is_refused(bench, tmp_path, monkeypatch):
    heads = iter(range(100))
    monkeypatch.setattr(
        "benchstation.screens.records.listing.told_to", lambda store: (next(heads),)
    )
    monkeypatch.setattr(
        "benchstation.screens.records.listing.csv_lines", lambda head, units: iter([b"x"])
    )
    monkeypatch.setattr(
        "benchstation.screens.records.listing.write_list_pdf", lambda head, units, path: path
    )
    with pytest.raises(StationError, match="grow while"):
        listed(bench, "unit:u001", tmp_path)
