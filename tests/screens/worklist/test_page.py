"""The worklist of a bench: each kind of line, why it waits, and where it leads."""

from dataclasses import replace
from datetime import timedelta

import pytest

from benchstation.domain.events import (
    DeviationSigned,
    InstrumentChecked,
    InstrumentRegistered,
    RebuildOpened,
    ReleaseRuleSet,
    UnitDisposed,
    UnitFiled,
    UnitReturned,
    UnitShipped,
)
from benchstation.domain.statements import Statement
from benchstation.driver_api.errors import StationError
from benchstation.screens.model.worklist import LEAD, PAGE, PLACE
from benchstation.screens.records.page import Records
from benchstation.screens.worklist import lines, page
from benchstation.screens.worklist.lines import Desk, WorkKind
from benchstation.screens.worklist.page import KINDS, open_work, work_rows
from tests.samples import sample_of


@pytest.fixture
def desk(bench):
    """One passed unit, and what a station knows at the same moment."""
    bench.work_to(None, serial="MR-1")

    def now():
        names = {key: p.name for key, p in bench.store.people().items()}
        return Desk(bench.store, bench.session.shop, bench.session.today, names)

    return now


def states(desk):
    return [(row.title, row.state) for row in work_rows(desk)]


def line(desk, state):
    row = next(row for row in work_rows(desk) if row.state == state)
    return row, open_work(desk, row.key)


def leads_to(detail):
    assert [action.id for action in detail.actions] == [LEAD]
    return detail.fields[PAGE], detail.fields[PLACE]


def test_a_passed_unit_waits_to_be_released_until_it_is(bench, desk):
    row, detail = line(desk(), "to be released")
    assert row.title == "MR-1"
    assert row.below[0].startswith("pass, filed ")
    page, question = leads_to(detail)
    assert page == "records"
    (found,) = Records(bench.store).find(question)
    assert found.serial == "MR-1"
    said = UnitDisposed(found.unit_id, "held", "the label is torn")
    bench.store.append([said], person="quality", utc=bench.clock.utc())
    row, detail = line(desk(), "on hold")
    assert row.below == ("the label is torn",)
    assert ("MR-1", "to be released") not in states(desk())
    said = UnitDisposed(found.unit_id, "released", "seen")
    bench.store.append([said], person="quality", utc=bench.clock.utc())
    assert "MR-1" not in [title for title, _ in states(desk())]
    with pytest.raises(StationError, match="done with"):
        open_work(desk(), row.key)


def test_a_shipped_unit_waits_for_its_customer_to_be_told_and_one_that_came_back_for_qa(
    bench, desk
):
    (found,) = Records(bench.store).find("")
    unit, clock = found.unit_id, bench.clock

    def say(*events, by="quality"):
        bench.store.append(list(events), person=by, utc=clock.utc())

    sample = sample_of(UnitShipped)
    values = {name: getattr(sample, name) for name in sample.__slots__}
    values |= {"unit_id": unit, "customer": "Fire brigade", "order": ""}
    say(ReleaseRuleSet(2, "two see more"))
    say(UnitDisposed(unit, "release signed", "seen"))
    row, _ = line(desk(), "second signature")
    assert row.title == "MR-1"
    say(UnitDisposed(unit, "released", "seen"), by="lead")
    say(UnitShipped(**values))
    assert "MR-1" not in [title for title, _ in states(desk())]
    say(UnitDisposed(unit, "held", "the lot is in doubt"))
    row, detail = line(desk(), "tell customer")
    assert row.below == ("tell Fire brigade: on hold",)
    assert leads_to(detail)[0] == "records"
    say(UnitReturned(unit, "leaks", ""))
    row, _ = line(desk(), "returned")
    assert row.below == ("from Fire brigade",)
    assert "tell customer" not in [state for _, state in states(desk())]


def test_a_deviation_names_who_accepted_it_and_the_hold_says_why(bench, desk):
    template = bench.store.entries(kind=UnitFiled.kind)[0].event
    opened = bench.store.entries(kind=RebuildOpened.kind)[0].event
    record = {**template.record}
    deviation = {
        "step": "Pour",
        "subject": {"code": "text", "values": {"text": "scored rod"}},
        "reason": "polished",
        "person": "Jana Lead",
        "utc": record["filed_utc"],
    }
    record |= {"deviations": [deviation], "qa_hold": True}
    record["qa_hold_reasons"] = [{"code": "text", "values": {"text": "a deviation"}}]
    unit = "u-deviates"
    bench.store.append(
        [
            replace(opened, unit_id=unit, serial="MR-2", line=""),
            DeviationSigned(unit, "pour", Statement("text", {"text": "scored rod"}), "polished"),
            replace(template, unit_id=unit, serial="MR-2", qa_hold=True, record=record),
        ],
        person="lead",
        utc=bench.clock.utc(),
    )
    row, detail = line(desk(), "deviation")
    assert (row.title, row.below[0]) == ("MR-2", "accepted by Jana Lead: scored rod")
    assert detail.groups[1].terms[0].value == "polished"
    row, detail = line(desk(), "on hold")
    assert row.below == ("a deviation",)


def test_a_failed_check_counts_the_units_in_doubt_and_leads_to_them(bench, desk):
    gauge = bench.session.gauge.id
    utc = bench.clock.utc()
    bad = InstrumentChecked(gauge, "zero check", 0.0, 9e4, 2e3, False)
    bench.store.append([bad], person="lead", utc=utc)
    row, detail = line(desk(), "check failed")
    assert row.below == ("zero check failed; one unit rests on it since it was good",)
    page, question = leads_to(detail)
    assert page == "records"
    assert [r.serial for r in Records(bench.store).find(question)] == ["MR-1"]
    good = InstrumentChecked(gauge, "zero check", 0.0, 1.0, 2e3, True)
    bench.store.append([good], person="lead", utc=utc)
    assert "check failed" not in [state for _, state in states(desk())]


def test_calibrations_that_end_and_lots_that_expire(bench, desk):
    assert not {"calibration", "expires"} & {state for _, state in states(desk())}
    today = bench.session.today
    registered = bench.store.entries(kind=InstrumentRegistered.kind)[0].event
    for days, said in ((-1, "overdue since"), (30, "due ")):
        until = str(today + timedelta(days=days))
        due = replace(registered, calibrated_until=until)
        bench.store.append([due], person="lead", utc=bench.clock.utc())
        row, detail = line(desk(), "calibration")
        assert f"calibration {said}" in row.below[0]
        assert row.below[0].endswith(until)
        assert leads_to(detail) == ("instruments", registered.instrument_id)
    lot = next(iter(bench.session.shop.lots.values()))
    for days in (31, 30):
        ends = str(today + timedelta(days=days))
        bench.session.shop.lots["L-new"] = replace(lot, lot="L-new", until=ends)
        assert (("L-new", "expires") in states(desk())) is (days == 30)
    row, detail = line(desk(), "expires")
    assert row.below == (f"may be used until {ends}",)
    assert leads_to(detail) == ("materials", "L-new")


def test_a_costly_kind_is_found_anew_only_after_something_was_filed_or_checked(bench, desk):
    found = []
    kind = WorkKind("slow", "slow", lambda at: found.append(1) or (), costly=True)
    kept = {}

    def look():
        page._found(kind, replace(desk(), kept=kept))
        return len(found)

    assert [look(), look()] == [1, 1]
    good = InstrumentChecked(bench.session.gauge.id, "zero check", 0.0, 1.5, 2e3, True)
    bench.store.append([good], person="lead", utc=bench.clock.utc())
    assert [look(), look()] == [2, 2]
    filed = bench.store.entries(kind=UnitFiled.kind)[0].event
    opened = bench.store.entries(kind=RebuildOpened.kind)[0].event
    more = [replace(opened, unit_id="u9", line=""), replace(filed, unit_id="u9")]
    bench.store.append(more, person="lead", utc=bench.clock.utc() + timedelta(seconds=1))
    assert [look(), look()] == [3, 3]


def test_where_there_are_more_than_are_listed_one_line_leads_to_all(bench, desk, monkeypatch):
    monkeypatch.setattr("benchstation.screens.worklist.units.MOST", 0)
    row, detail = line(desk(), "to be released")
    assert (row.title, row.below) == ("All of them", ("1 in all",))
    _, question = leads_to(detail)
    assert [r.serial for r in Records(bench.store).find(question)] == ["MR-1"]
    assert lines.MOST > 0
    assert len({kind.id for kind in KINDS}) == len(KINDS)
