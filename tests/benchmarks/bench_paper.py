"""How long a certificate takes of a unit with an hour of traces, beside one with a few minutes.

Run: python -m tests.benchmarks.bench_paper
"""

import tempfile
import time
from dataclasses import replace
from pathlib import Path
from statistics import median

import numpy as np

from benchstation.reports.certificate import certificate
from benchstation.reports.export import FiledRecord, as_text, filed_record, signed_json
from benchstation.store.traces import Trace
from tests.stepped_bench import make_bench

HOUR_S, RATE_HZ = 3600, 10
MOST_S = 1.5
ROUNDS = 5


def long_trace(trace: Trace) -> Trace:
    """Return a trace of an hour, ten samples a second, in decimal steps as devices give them."""
    t_us = np.arange(HOUR_S * RATE_HZ, dtype=np.int64) * (1_000_000 // RATE_HZ)
    channels = {
        name: np.round(values[-1] + 50.0 * np.sin(t_us / 3e8), -1)
        for name, values in trace.channels.items()
    }
    return Trace(t_us, channels, trace.units, trace.t0_utc)


def with_an_hour(filed: FiledRecord) -> FiledRecord:
    """Return the record with a charge that was watched for an hour."""
    made = long_trace(filed.traces[filed.record.charge.trace_sha256])
    charge = replace(filed.record.charge, trace_sha256=made.sha256)
    traces = {**filed.traces, made.sha256: made}
    return replace(filed, record=replace(filed.record, charge=charge), traces=traces)


def seconds(filed: FiledRecord) -> float:
    """Return the median time that a certificate takes."""
    taken = []
    for _ in range(ROUNDS):
        begun = time.perf_counter()
        certificate(filed)
        taken.append(time.perf_counter() - begun)
    return median(taken)


def main() -> None:
    """Print both times, their ratio, and the size."""
    with tempfile.TemporaryDirectory() as folder:
        bench = make_bench(Path(folder))
        bench.work_to(None, serial="P-1")
        unit = bench.store.entries(kind="unit.filed")[0].event.unit_id
        filed = filed_record(bench.store, unit)
        bench.store.close()
    hour = with_an_hour(filed)
    certificate(filed)
    short_s, long_s = seconds(filed), seconds(hour)
    print(f"{'a few minutes of traces':<28}{1e3 * short_s:8.0f} ms")
    print(f"{'an hour of traces':<28}{1e3 * long_s:8.0f} ms, {long_s / short_s:.1f} times")
    text = as_text(signed_json(hour))
    print(f"{'JSON, PDF':<28}{len(text) / 1e6:8.2f} MB, {len(certificate(hour)) / 1e6:.2f} MB")
    print(f"{'at most':<28}{1e3 * MOST_S:8.0f} ms: {'met' if long_s <= MOST_S else 'NOT MET'}")


if __name__ == "__main__":
    main()
