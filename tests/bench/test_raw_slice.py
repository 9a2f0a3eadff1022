"""What went over the line stands behind a captured value, so that it can be read once more."""

import statistics

import pytest

from benchstation.bench.capture.tracing import MOST_SLICE_BYTES, raw_slice
from benchstation.domain.specification import StepKind
from benchstation.driver_api.reading import Reading
from benchstation.link.raw_log import Direction, RawLog
from benchstation.reports.export import filed_record


def test_a_slice_has_age_way_and_bytes_of_its_time():
    log = RawLog()
    log.add(1.0, Direction.RECEIVED, b"old")
    log.add(8.75, Direction.SENT, b"P\r\n")
    log.add(9.0, Direction.RECEIVED, b"\x02+1.5 g\x03")
    log.add(11.0, Direction.RECEIVED, b"later")
    assert raw_slice(log, 10.0, 2.0) == ("1.250 sent 500d0a", "1.000 received 022b312e35206703")


def test_a_slice_keeps_the_newest_of_too_much():
    log = RawLog()
    for n in range(100):
        log.add(n / 100, Direction.RECEIVED, bytes([n]) * 100)
    kept = raw_slice(log, 1.0, 2.0)
    assert len(kept) == MOST_SLICE_BYTES // 100
    assert kept[-1] == f"0.010 received {'63' * 100}"


def read_again(instrument, slices) -> list[float]:
    driver = instrument.profile.make_driver()
    ways = [line.split() for line in slices]
    data = b"".join(bytes.fromhex(hexed) for _, way, hexed in ways if way == "received")
    items = driver.feed(data, 0.0)
    return [item.value for item in items if isinstance(item, Reading)]


def test_the_record_holds_the_frames_that_its_values_were_taken_from(bench):
    bench.work_to(None)
    unit_id = bench.session.rebuild.unit_id
    record = filed_record(bench.store, unit_id).record
    captures = record.oil.captures
    assert [c.purpose for c in captures] == ["pour", "bleed"]
    for capture in captures:
        shown = read_again(bench.session.scale.instrument, capture.raw_slice)
        assert len(shown) >= 8
        assert statistics.mean(shown) == pytest.approx(capture.shown_kg, abs=1e-4)
    gauge = read_again(bench.session.gauge.instrument, record.charge.raw_slice)
    assert statistics.mean(gauge) == pytest.approx(record.charge.gauge_pa, abs=500.0)
    assert bench.session.rebuild.specification.step_of(StepKind.CHARGE).id == "charge"
