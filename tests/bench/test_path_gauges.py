"""Which gauges are in the pressure path, changed in the window: signed, and judged at once."""

import pytest

from benchstation.bench.bench_settings import BenchSettings, found_changed
from benchstation.config.settings import InstrumentSettings, Settings
from benchstation.demo import shop as demo
from benchstation.domain.events import BenchSettingChanged
from benchstation.driver_api.errors import StationError
from benchstation.quantities.formatter import METRIC
from benchstation.screens.settings.page import open_settings
from tests.bench.test_two_gauges import SECOND
from tests.stepped_bench import make_bench

SIGNED = {"reason": "manifold taken out", "signature": demo.PIN}


def placed(name, role, profile):
    return InstrumentSettings(id=name, role=role, profile=profile, url=f"socket://h:{len(name)}")


@pytest.fixture
def lead(tmp_path):
    made = make_bench(tmp_path, others=[SECOND])
    settings = Settings(
        path_ratings=demo.RATINGS,
        path_gauges=("gauge-1", "gauge-2"),
        instruments=(
            placed("scale-1", "scale", "scale-status-first"),
            InstrumentSettings(
                id="gauge-1", role="gauge", profile="gauge-value-unit", url="socket://h:1"
            ),
            InstrumentSettings(
                id="gauge-2", role="gauge", profile="gauge-value-unit", url="socket://h:2"
            ),
        ),
    )
    made.session.go_by(BenchSettings(settings))
    made.sign_in(demo.LEAD)
    yield made
    made.store.close()


def change(bench, path, **signed):
    form = {"group": "pressure path", "path_gauges": path, **SIGNED, **signed}
    return bench.session.act("change_settings", {**demo.SIGNED, **form})


def over_limit(bench, name):
    """Have a gauge show more than the limit, and give the alarms that are open then."""
    bench.lines[name].device.offset_pa += 50e5
    bench.run(2)
    return {alarm.gauge for alarm in bench.session.watch.snapshot().alarms}


def test_a_gauge_that_is_taken_out_of_the_path_is_not_judged(lead):
    assert "put on record" in change(lead, "gauge-1")
    assert lead.session.watch.gauges == ("gauge-1",)
    assert over_limit(lead, "gauge-2") == set()
    assert over_limit(lead, "gauge") == {"gauge-1"}
    (fact,) = [
        e.event
        for e in lead.store.entries(kind=BenchSettingChanged.kind)
        if e.event.setting == "path_gauges"
    ]
    assert (fact.before, fact.after) == (["gauge-1", "gauge-2"], ["gauge-1"])


def test_it_comes_back_and_is_judged_again(lead):
    change(lead, "gauge-1")
    change(lead, "gauge-1, gauge-2", reason="manifold is back")
    assert over_limit(lead, "gauge-2") == {"gauge-2"}


def test_the_first_is_that_in_the_fill_line(lead):
    change(lead, "gauge-2, gauge-1")
    assert lead.session.gauge.id == "gauge-2"
    assert lead.session.watch.gauges == ("gauge-2", "gauge-1")
    assert over_limit(lead, "gauge") == {"gauge-1"}


@pytest.mark.parametrize(
    ("path", "said"),
    [
        ("gauge-3", "no gauge 'gauge-3'"),
        ("scale-1", "no gauge 'scale-1'"),
        ("gauge-1, gauge-1", "twice"),
        ("", "must name which"),
    ],
)
def test_what_is_no_path_is_refused_and_changes_nothing(lead, path, said):
    with pytest.raises(StationError, match=said):
        change(lead, path)
    assert lead.session.watch.gauges == ("gauge-1", "gauge-2")


def test_not_under_an_alarm(lead):
    over_limit(lead, "gauge-2")
    with pytest.raises(StationError, match="an alarm is open"):
        change(lead, "gauge-1")
    assert "gauge-2" in lead.session.watch.gauges


def test_the_page_shows_it_and_the_record_knows_it_at_the_next_start(lead):
    change(lead, "gauge-2, gauge-1")
    session = lead.session
    detail = open_settings(
        "pressure path", session.settings, session.person, METRIC, lead.store, session.shop
    )
    terms = {t.label: t.value for group in detail.groups for t in group.terms}
    assert terms["Gauges in the path"] == "gauge-2, gauge-1"
    fields = {f.id: f.value for f in detail.forms["change_settings"].fields}
    assert fields["path_gauges"] == "gauge-2, gauge-1"
    again = [f.setting for f in found_changed(session.settings.now, lead.store)]
    assert "path_gauges" not in again
