"""A thermometer, a barometer and a hygrometer are read and shown; results rest on the first two."""

import pytest

from benchstation.bench.assembly import NotOnRecordError, Placed, bench_from
from benchstation.demo import shop as demo
from benchstation.domain.events import InstrumentRegistered
from benchstation.domain.instrument_roles import InstrumentRole
from benchstation.domain.unit_commands import NotAllowedError
from benchstation.quantities.formatter import METRIC, QuantityFormatter
from benchstation.quantities.units import NO_VALUE, UnitSystem
from benchstation.reports.export import filed_record
from benchstation.screens.bench.instrument_bar import strip
from benchstation.screens.instruments.page import instrument_views
from tests.stepped_bench import Another, make_bench

PROFILE = """
id = "{id}"
title = "Text {id}"
kind = "{kind}"
driver = "text_line"
[rate]
expected_hz = 2
[channel]
{channel}
[options]
units = {{ {units} }}
fields = [
  {{ kind = "sign", plus = "+", minus = "-" }},
  {{ kind = "number", width = 6, pad = "zero" }},
  {{ kind = "literal", text = " " }},
  {{ kind = "unit", width = 3, align = "left" }},
]
"""
KINDS = {
    "thermometer": ("temperature", "", "C = { factor = 1.0, offset = 273.15 }", b"+021.35 C  \r\n"),
    "barometer": ("pressure", 'reference = "absolute"', "hPa = 100.0", b"+0987.4 hPa\r\n"),
    "hygrometer": ("humidity", "", "RH = 0.01", b"+0045.0 RH \r\n"),
}


class Lines:
    """A device that says the same line twice a second."""

    def __init__(self, line):
        self.line, self.due = line, 0.0

    def output(self, t):
        if t < self.due:
            return b""
        self.due = t + 0.5
        return self.line

    def receive(self, data, t):
        return b""


def another(role, line=None):
    kind, channel, units, usual = KINDS[role]
    registered = InstrumentRegistered(
        f"{role}-1", role, f"Bench {role}", f"text-{role}", "X-1", 1.0, 0.0, 0.1,
        "2026-01-02", "2027-01-02", "C-9",
    )  # fmt: skip
    text = PROFILE.format(id=f"text-{role}", kind=kind, channel=channel, units=units)
    return Another(
        registered, text, lambda model: Lines(usual if line is None else line), use="bench air"
    )


@pytest.fixture
def bench(tmp_path):
    made = make_bench(tmp_path, others=[another(role) for role in KINDS])
    yield made
    made.store.close()


def shown(bench, words=METRIC):
    return {one.id: (one.title, one.number, one.unit) for one in strip(bench.session, words)}


def test_each_is_shown_in_the_bar_in_its_own_unit(bench):
    assert shown(bench)["thermometer-1"] == ("Thermometer", "21.4", "°C")
    assert shown(bench)["barometer-1"] == ("Barometer", "987", "hPa")
    assert shown(bench)["hygrometer-1"] == ("Hygrometer", "45", "% RH")
    inch_pound = shown(bench, QuantityFormatter(UnitSystem.INCH_POUND))
    assert inch_pound["thermometer-1"][1:] == ("70.4", "°F")
    assert inch_pound["barometer-1"][1:] == ("29.16", "inHg")
    beside = {one.id for one in strip(bench.session, METRIC) if one.beside}
    assert beside == {f"{role}-1" for role in KINDS}


def test_each_has_its_panel_with_line_and_calibration_and_no_check_yet(bench):
    views = {
        view.id: view for view in instrument_views(bench.session, strip(bench.session, METRIC))
    }
    view = views["thermometer-1"]
    assert view.title == "Bench thermometer"
    assert view.actions == ()
    assert [group.title for group in view.groups] == ["Line", "Calibration"]
    assert ("What it is for", "bench air") in [(t.label, t.value) for t in view.groups[1].terms]
    assert any("021.35" in line for line in view.raw_lines)
    bench.sign_in()
    with pytest.raises(NotAllowedError, match="nothing to compare it with"):
        bench.session.act("check", {"instrument": "thermometer-1"})


def test_one_that_says_nothing_is_stale_and_touches_neither_guard_nor_capture(bench):
    bench.unplugged.add("thermometer-1")
    bench.run(5)
    (view,) = (one for one in strip(bench.session, METRIC) if one.id == "thermometer-1")
    assert view.stale
    assert bench.session.watch.snapshot().alarms == ()
    assert not bench.session.watch.snapshot().capture_locked


def test_before_the_first_reading_there_is_no_value(tmp_path):
    made = make_bench(tmp_path, others=[another("hygrometer", b"")])
    assert shown(made)["hygrometer-1"] == ("Hygrometer", NO_VALUE, "% RH")
    made.store.close()


def test_a_record_rests_on_those_that_its_results_took(bench):
    bench.work_to(None)
    record = filed_record(bench.store, bench.session.rebuild.unit_id).record
    assert [one.role for one in record.instruments] == [
        "scale",
        "gauge",
        "thermometer",
        "barometer",
    ]


@pytest.mark.parametrize(
    ("placed", "said"),
    [
        ([Placed("scale-1", InstrumentRole.SCALE)], "has no gauge"),
        ([Placed("scale-9", InstrumentRole.SCALE)], "the scale 'scale-9' of the settings is not"),
        ([Placed("scale-1", InstrumentRole.THERMOMETER)], "the thermometer 'scale-1'"),
    ],
)
def test_settings_that_the_journal_does_not_bear_out_are_refused(bench, placed, said):
    shop, clock = demo.demo_shop(bench.store), bench.clock.clock
    with pytest.raises(NotOnRecordError, match=said):
        bench_from(bench.store, shop, clock, lambda: demo.AIR, placed=placed)
