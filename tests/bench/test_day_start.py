"""The start of the day: done by evidence, signed by a person, or put off with a reason."""

import pytest

from benchstation.bench.day_start import BACKUP, BOTTLE, CALIBRATIONS, LineState, day_book
from benchstation.domain.air_evidence import AirQuantity
from benchstation.domain.events import DayLineSigned
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.screens.day.page import day_open, day_rows, open_day_line
from tests.stepped_bench import START, make_bench

AIR = {"air": "21.4", "air_on": "wall thermometer", "air_u": "0.6"}
BAROMETER = {"barometer": "1009", "barometer_on": "barometer at the door", "barometer_u": "2"}


@pytest.fixture
def bench(tmp_path):
    made = make_bench(tmp_path)
    made.sign_in()
    yield made
    made.store.close()


def act(bench, action, **fields):
    return bench.session.act(action, fields)


def states(bench) -> dict[str, LineState]:
    return {line.key: line.state for line in bench.session.day_lines()}


def test_a_new_day_begins_with_every_line_open_but_what_does_not_fall_due(bench):
    found = states(bench)
    assert list(found) == [
        "air",
        "barometer",
        "check scale-1",
        "check gauge-1",
        CALIBRATIONS,
        BOTTLE,
        BACKUP,
    ]
    assert found.pop(CALIBRATIONS) is LineState.DONE
    assert set(found.values()) == {LineState.OPEN}


def test_a_figure_that_is_typed_does_its_line_until_it_is_too_old(bench):
    act(bench, "note_air", **AIR)
    assert (states(bench)["air"], states(bench)["barometer"]) == (LineState.DONE, LineState.OPEN)
    act(bench, "note_air", **BAROMETER)
    assert states(bench)["barometer"] is LineState.DONE
    bench.clock.advance(3700.0)
    assert (states(bench)["air"], states(bench)["barometer"]) == (LineState.OPEN, LineState.DONE)


def test_a_check_of_today_does_its_line_and_a_failed_one_does_not(bench):
    act(bench, "check", instrument="gauge-1")
    assert states(bench)["check gauge-1"] is LineState.DONE
    bench.world.gauge.offset_pa = 0.4e5
    bench.run(1)
    act(bench, "check", instrument="gauge-1")
    assert states(bench)["check gauge-1"] is LineState.OPEN


def test_what_leaves_no_evidence_is_signed_by_a_person_with_what_was_seen(bench):
    assert act(bench, "sign_day_line", line=BOTTLE, bottle="140 bar").startswith("On record. 5 ")
    act(bench, "sign_day_line", line=BACKUP, note="disk B, 17:40 yesterday")
    assert states(bench)[BOTTLE] is states(bench)[BACKUP] is LineState.DONE
    kept = [e.event for e in bench.store.entries(kind=DayLineSigned.kind)]
    assert kept == [
        DayLineSigned(BOTTLE, False, "", 140e5),
        DayLineSigned(BACKUP, False, "disk B, 17:40 yesterday"),
    ]


@pytest.mark.parametrize(
    ("line", "fields", "said", "field"),
    [
        ("air", {"note": "warm"}, "done by its evidence", ""),
        ("check scale-1", {"note": "fine"}, "done by its evidence", ""),
        ("engine", {"note": "fine"}, "done by its evidence", ""),
        (BACKUP, {}, "what was seen is missing", "note"),
        (BOTTLE, {}, "gauge shows is missing", "bottle"),
        (BOTTLE, {"bottle": "900 bar"}, "gauge shows is missing", "bottle"),
        (BOTTLE, {"bottle": "140 g"}, "pressure", "bottle"),
    ],
)
def test_a_word_does_no_line_that_wants_evidence(bench, line, fields, said, field):
    with pytest.raises(Exception, match=said) as raised:
        act(bench, "sign_day_line", line=line, **fields)
    assert raised.value.field == field
    assert not bench.store.entries(kind=DayLineSigned.kind)


def test_a_line_is_put_off_for_a_reason_and_for_today_only(bench):
    with pytest.raises(NotAllowedError, match="needs a reason"):
        act(bench, "put_off", line="barometer")
    act(bench, "put_off", line="barometer", reason="at the calibration house")
    assert states(bench)["barometer"] is LineState.PUT_OFF
    act(bench, "note_air", **BAROMETER)
    assert states(bench)["barometer"] is LineState.DONE
    with pytest.raises(NotAllowedError, match="nothing to put off"):
        act(bench, "put_off", line="barometer", reason="x")
    act(bench, "put_off", line=BOTTLE, reason="later")
    bench.clock.advance(86_400.0)
    assert states(bench)[BOTTLE] is LineState.OPEN


def test_putting_off_opens_no_lock(bench):
    act(bench, "put_off", line="air", reason="no thermometer")
    session = bench.session
    known = session.known_air.evidence(
        AirQuantity.TEMPERATURE, session.instruments, session.moment()
    )
    assert "was not read" in known.why_not(session.clock.utc(), session.known_air.limits)


def test_what_was_signed_stands_after_a_restart(bench, tmp_path):
    act(bench, "sign_day_line", line=BOTTLE, bottle="140 bar")
    book = day_book(bench.store)
    assert book.today(BOTTLE, START.astimezone().date()).event.value == 140e5
    assert states(bench)[BOTTLE] is LineState.DONE


def test_a_calibration_that_falls_due_within_the_month_is_seen_or_put_off(tmp_path):
    late = make_bench(tmp_path)
    late.clock.advance(140 * 86_400.0)
    late.sign_in()
    assert states(late)[CALIBRATIONS] is LineState.OPEN
    shown = open_day_line(late.session, CALIBRATIONS)
    assert [t.label for t in shown.groups[0].terms] == ["Bench scale, 6 kg", "Charge gauge, 40 bar"]
    act(late, "sign_day_line", line=CALIBRATIONS, note="ordered")
    assert states(late)[CALIBRATIONS] is LineState.DONE
    late.store.close()


def test_it_is_asked_for_where_the_settings_say_so_and_no_unit_is_on_the_bench(bench):
    assert day_open(bench.session) == 0
    settings = bench.session.settings
    settings.now = settings.now.model_copy(update={"start_of_day": True})
    assert day_open(bench.session) == 6
    act(bench, "sign_out")
    assert day_open(bench.session) == 0
    bench.sign_in()
    act(bench, "open", serial="T-2", specification="mr-46-front", lot="L-0417")
    assert day_open(bench.session) == 0


def test_each_line_is_done_from_its_own_form(bench):
    rows = day_rows(bench.session)
    assert len({row.key for row in rows}) == len(rows) == 7
    for row in rows:
        detail = open_day_line(bench.session, row.key)
        ids = [action.id for action in detail.actions]
        assert (row.state == "done") == ("put_off" not in ids), row.key
        assert row.state == "done" or any(a.primary for a in detail.actions), row.key
        keys = [action.key for action in detail.actions if action.key]
        assert len(set(keys)) == len(keys)
        assert set(detail.forms) <= set(ids)
    assert "prove_empty" in [a.id for a in open_day_line(bench.session, "check scale-1").actions]
    act(bench, "note_air", **AIR)
    group = open_day_line(bench.session, "air").groups[0]
    assert group.terms[0].value.startswith("21.4")
