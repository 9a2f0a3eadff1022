"""What is no device is never fit on a real bench, and is named wherever it was used."""

import pytest

from benchstation.bench.locks import capture_locked
from benchstation.bench.virtual import know_source, know_sources
from benchstation.demo import shop as demo
from benchstation.domain.events import InstrumentVirtual, UnitFiled
from benchstation.domain.specification import StepKind
from benchstation.driver_api.errors import StationError
from benchstation.quantities.formatter import METRIC
from benchstation.reports.certificate import write_certificate
from benchstation.reports.export import as_json, filed_record
from benchstation.reports.label import label_lines
from benchstation.reports.remarks import virtual_words
from benchstation.screens.records.page import Records

URLS = {"scale-1": "replay:/data/scale.rec", "gauge-1": "/dev/ttyUSB1"}
DEVICES = {"scale-1": "/dev/ttyUSB0", "gauge-1": "/dev/ttyUSB1"}


def facts(bench):
    entries = bench.store.entries(kind=InstrumentVirtual.kind)
    return [(entry.event.instrument_id, entry.event.what) for entry in entries]


def filed(bench):
    unit = bench.store.entries(kind=UnitFiled.kind)[-1].event.unit_id
    return filed_record(bench.store, unit)


def test_a_recording_captures_nothing_on_a_real_bench_and_no_deviation_opens_it(bench):
    bench.work_to(StepKind.WEIGH)
    know_sources(bench.session, URLS, real=True)
    said = f"{bench.session.scale.registered.title} is no instrument but a recording"
    assert bench.session.scale.unfit(bench.session.today) == said
    assert capture_locked(bench.session) == said
    bench.sign_in(demo.LEAD)
    bench.session.act("deviation", {"reason": "the scale is away", **demo.SIGNED})
    assert capture_locked(bench.session) == said
    assert facts(bench) == [("scale-1", "recording")]
    know_sources(bench.session, DEVICES, real=True)
    assert capture_locked(bench.session) == ""
    assert facts(bench)[-1] == ("scale-1", "")


def test_a_gauge_that_is_a_program_proves_no_release(bench):
    bench.work_to(StepKind.RELEASE)
    know_sources(bench.session, {**DEVICES, "gauge-1": "socket://127.0.0.1:4001"}, real=True)
    gauge = bench.session.gauge
    assert "no instrument but a program on this computer" in gauge.unfit(bench.session.today)
    assert gauge.good_value(bench.clock.seconds()) is None
    bench.world.model.vent_opening = 1.0
    bench.run(60.0)
    signed = {f"confirm{n}": "yes" for n in range(1, 5)}
    with pytest.raises(StationError, match="no valid pressure reading"):
        bench.session.act("sign", signed)
    assert "release" not in bench.session.rebuild.signatures


def test_it_is_on_record_once_and_not_at_each_start(bench):
    for _ in range(3):
        know_sources(bench.session, URLS, real=True)
    assert facts(bench) == [("scale-1", "recording")]


def test_the_demonstration_works_with_it_and_says_so_on_record_paper_label_and_screen(
    bench, tmp_path
):
    know_sources(bench.session, URLS, real=False)
    bench.work_to(None)
    found = filed(bench)
    named = {i.id: i.virtual for i in found.record.instruments}
    assert named == {"scale-1": "demonstration", "gauge-1": ""}
    assert virtual_words(found.record).startswith("Measured by no instrument. Bench scale")
    assert "virtual one of the demonstration" in virtual_words(found.record)
    assert "MEASURED BY NO INSTRUMENT" in label_lines(found, METRIC)
    assert as_json(found)["record"]["instruments"][0]["virtual"] == "demonstration"
    path = write_certificate(found, tmp_path / "record.pdf")
    from pypdf import PdfReader

    assert "Measured by no instrument" in PdfReader(path).pages[0].extract_text()
    detail = Records(bench.store).open(found.record.unit_id, METRIC)
    assert "NO INSTRUMENT, a virtual one of the demonstration" in str(detail)


def test_one_that_was_virtual_for_a_while_is_named(bench):
    bench.work_to(StepKind.WEIGH)
    know_source(bench.session, "scale-1", "recording")
    bench.run(1.0)
    know_source(bench.session, "scale-1", "")
    bench.work_to(None)
    assert {i.id: i.virtual for i in filed(bench).record.instruments}["scale-1"] == "recording"


def test_one_that_was_virtual_before_the_unit_came_is_not_named(bench):
    know_source(bench.session, "scale-1", "recording")
    bench.run(1.0)
    know_source(bench.session, "scale-1", "")
    bench.run(1.0)
    bench.work_to(None)
    assert not virtual_words(filed(bench).record)
