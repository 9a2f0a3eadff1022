"""The front of a record: standing and verdict, who says so, measured with what, what is open."""

from dataclasses import replace

import pytest

from benchstation.demo import shop as demo
from benchstation.domain.disposition import Standing
from benchstation.domain.events import UnitDisposed
from benchstation.domain.statements import Code, Statement
from benchstation.quantities.formatter import QuantityFormatter, local_time
from benchstation.quantities.units import UnitSystem
from benchstation.reports.export import filed_record
from benchstation.screens.model.elements import Tone
from benchstation.screens.records.front import NOTHING_OPEN, OWN_HOLD, WAITS, front_of, place_of
from benchstation.screens.records.page import Records
from tests.stepped_bench import START, make_bench

METRIC, INCH = QuantityFormatter(UnitSystem.METRIC), QuantityFormatter(UnitSystem.INCH_POUND)


@pytest.fixture(scope="module")
def filed_bench(tmp_path_factory):
    """A bench with a careful unit and a troubled one filed."""
    bench = make_bench(tmp_path_factory.mktemp("front"))
    bench.work_to(None, serial="F-1")
    bench.session.act("next", {})
    bench.work_to(None, serial="F-2", careless_valve=True, oil_error_kg=3e-3)
    yield bench
    bench.store.close()


@pytest.fixture
def opened(filed_bench):
    store = filed_bench.store
    units = [entry.event.unit_id for entry in store.entries(kind="unit.filed")]

    def open_it(number=0, words=METRIC):
        return Records(store).open(units[number], words)

    open_it.unit = units.__getitem__
    return open_it


def tones(detail):
    """Return every meaning that is drawn of a record above the fold."""
    front = detail.front
    yield front.tone
    yield from (tone for _, tone in (*front.said, *front.open_points, *front.measured_with))
    yield from (figure.tone for figure in front.figures)
    for trace in detail.traces:
        yield trace.band_tone
        yield from (tone for _, _, tone in trace.marks)


def test_a_pass_that_nobody_released_says_so_and_has_nothing_green(opened):
    detail = opened()
    front = detail.front
    assert (front.verdict, front.beside) == ("pass", "not released yet")
    assert (WAITS, Tone.QUIET) in front.said
    assert front.open_points == (NOTHING_OPEN,)
    assert Tone.GOOD not in set(tones(detail))


def test_it_says_who_filed_it_where_and_when_by_the_clock_on_the_wall(opened):
    filed = opened().row.filed
    assert filed.endswith(START.astimezone().tzname())
    (said, _), *_ = opened().front.said
    assert said == f"Judged pass; filed by Mira Kofler, {filed}, bench-2."


def test_a_troubled_unit_says_why_with_who_accepted_it(opened):
    front = opened(1).front
    assert (front.verdict, front.beside) == ("on hold", "judged deviation")
    assert (OWN_HOLD, Tone.CAUTION) in front.said
    said = [words for words, _ in front.open_points]
    assert any(words.startswith("Deviation, close and bleed: ") for words in said)
    assert any("Selma Oberhauser" in words for words in said)
    assert not any(words.startswith("Hold: deviation") for words in said), "it stands once"
    assert front.figures[0].tone is Tone.DANGER


def test_both_figures_stand_with_u_and_the_ends_of_their_window(opened):
    oil, charge = opened().front.figures
    assert oil.low < oil.value < oil.high
    assert charge.low < charge.value < charge.high
    assert float(oil.ends[0]) == pytest.approx(oil.low, abs=0.06)
    assert "U 0." in oil.words
    assert "pass, conforms over 99.99 %" in oil.words
    assert (oil.unit, charge.unit) == ("g", "bar gauge")


def test_inch_pound_reaches_figures_traces_and_their_levels(opened):
    detail = opened(words=INCH)
    oil, charge = detail.front.figures
    assert (oil.unit, charge.unit) == ("oz", "psi gauge")
    pour, pressure = detail.traces
    assert (pour.unit, pressure.unit) == ("oz", "psi gauge")
    assert pressure.band == pytest.approx((charge.low, charge.high))
    assert float(pressure.values[-1]) == pytest.approx(charge.value, rel=0.02)
    assert [words.split()[0] for words, _, _ in pressure.marks] == ["target", "high"]


def test_each_instrument_stands_with_certificate_and_check(opened):
    lines = opened().front.measured_with
    assert len(lines) == 2
    for words, _ in lines:
        assert "serial " in words
        assert "certificate C-" in words
        assert "valid to 2026-08-15" in words


def test_an_instrument_that_failed_or_was_overdue_or_none_is_marked(filed_bench, opened):
    filed = filed_record(filed_bench.store, opened.unit(0))

    def line(**change):
        instrument = replace(filed.record.instruments[0], **change)
        record = replace(filed.record, instruments=(instrument,))
        ((words, tone),) = front_of(
            replace(filed, record=record), Tone.QUIET, METRIC, to_settle=False
        ).measured_with
        return words, tone

    assert line() == (opened().front.measured_with[0][0], Tone.CAUTION), "it was not checked"
    words, tone = line(calibrated_until="2026-01-01")
    assert "OVERDUE since 2026-01-01" in words
    assert tone is Tone.CAUTION
    words, tone = line(virtual="simulated:scale")
    assert words.startswith("NO INSTRUMENT")
    assert tone is Tone.CAUTION


def test_a_word_in_place_of_evidence_stands_above_the_figures_terms(filed_bench, opened):
    filed = filed_record(filed_bench.store, opened.unit(0))
    reasons = (Statement.of(Code.LINE_BY_WORD), Statement.of(Code.CLOCK_RAN_BACK))
    held = replace(filed, record=replace(filed.record, qa_hold=True, qa_hold_reasons=reasons))
    points = front_of(held, Tone.CAUTION, METRIC, to_settle=True)
    assert [words for words, _ in points.open_points] == [
        "Hold: fill line vented by word alone",
        "Hold: the computer's clock was set back while it was worked on",
    ]
    assert points.said[-1][1] is Tone.CAUTION, "two words of QA contradict each other"


@pytest.mark.parametrize(
    ("word", "verdict", "beside"),
    [
        ("released", "pass", "released"),
        ("held", "on hold", "judged pass"),
        ("rejected", "rejected", "judged pass"),
    ],
)
def test_qas_word_stands_first_where_it_stops_the_unit_and_green_only_where_released(
    filed_bench, opened, word, verdict, beside
):
    said = UnitDisposed(opened.unit(0), word, f"it is {word}.")
    (entry,) = filed_bench.store.append([said], person=demo.QA, utc=START)
    detail = opened()
    assert (detail.front.verdict, detail.front.beside) == (verdict, beside)
    assert (Tone.GOOD in set(tones(detail))) == (word == "released")
    name = filed_bench.store.people()[demo.QA].name
    when = local_time(START)
    stands = Standing(verdict if verdict != "pass" else beside)
    qa = f"QA: {stands}, by {name}, {when}, entry {entry.seq}: it is {word}."
    assert qa in [words for words, _ in detail.front.said]
    assert detail.later[-1].title == f"QA: {stands}"
    assert detail.later[-1].when == when


def test_steps_stand_in_order_with_local_time_and_the_deviating_one_marked(opened):
    steps = opened(1).steps
    assert [step.title for step in steps][:2] == ["Intake", "Release the gas"]
    zone = START.astimezone().tzname()
    assert all(step.when.endswith(zone) and step.who and step.words for step in steps)
    assert [step.title for step in steps if step.tone is Tone.CAUTION] == ["Close and bleed"]


def test_place_names_order_position_and_revision(filed_bench, opened):
    filed = filed_record(filed_bench.store, opened.unit(0))
    assert place_of(filed) == "mr-46-front revision 1"
    placed = replace(filed, record=replace(filed.record, order="A-1204", position="front left"))
    assert place_of(placed) == "order A-1204   front left   mr-46-front revision 1"
