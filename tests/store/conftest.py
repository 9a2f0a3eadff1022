import dataclasses
import hashlib
import random
import typing
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from benchstation.domain.events import (
    EVENT_TYPES,
    AlarmChanged,
    AlarmEpisodeRecorded,
    ChargeCaptured,
    CheckWithdrawn,
    HoldTested,
    InstrumentChecked,
    InstrumentRegistered,
    MassCaptured,
    NoticeGiven,
    OilJudged,
    OilLotReceived,
    OrderChanged,
    OrderedUnit,
    OrderPlaced,
    OrderUnitWithdrawn,
    PersonEnrolled,
    PersonLeft,
    RebuildAbandoned,
    RebuildOpened,
    SpecificationApproved,
    StepReopened,
    StepSigned,
    TareProven,
    UnitAmended,
    UnitDisposed,
    UnitFetched,
    UnitFiled,
    UnitReturned,
    UnitSetAside,
    UnitShipped,
)
from benchstation.domain.inputs.part import PartFitted
from benchstation.domain.inputs.text import Written
from benchstation.domain.inputs.zero import ZeroRead
from benchstation.domain.oil_target import OilTarget
from benchstation.domain.statements import Gas
from benchstation.physics.gas_spring import ChargeTarget
from benchstation.store import connections
from benchstation.store.engine import open_store
from benchstation.store.traces import Trace
from tests.filed_records import EVIDENCE, filing_of
from tests.samples import sample_of

START = datetime(2026, 3, 4, 9, 0, tzinfo=UTC)
AS_THE_PROGRAM_WRITES = dict(connections.WRITER_PRAGMAS)


@pytest.fixture(autouse=True)
def on_the_disk(monkeypatch):
    """Wait for the disk as the program does; elsewhere tests do not."""
    monkeypatch.setitem(
        connections.WRITER_PRAGMAS, "synchronous", AS_THE_PROGRAM_WRITES["synchronous"]
    )


class Clock:
    """Moves on by 1.000001 s each time it is read, so that no two entries share a time."""

    def __init__(self):
        self._reads = 0

    def __call__(self):
        self._reads += 1
        return START + self._reads * timedelta(seconds=1, microseconds=1)


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def path(tmp_path):
    return tmp_path / "records.db"


@pytest.fixture
def store(path):
    with open_store(path, "bench-1") as opened:
        yield opened


@pytest.fixture
def add(store, clock):
    """Append events, by ines, a second after the last."""

    def append(*events, traces=(), to=store, person="ines"):
        return to.append(events, person=person, utc=clock(), traces=traces)

    return append


@pytest.fixture
def opening():
    def make(unit_id="u1", serial="MR-2231", lot="L-0417", family="MR 46 front"):
        return RebuildOpened(unit_id, serial, family, "mr-46-front", 3, lot, "WO-7", "left")

    return make


@pytest.fixture
def lot():
    def make(name="L-0417", rho=860.0):
        return OilLotReceived(name, "Damper oil VG 15", rho, 5e-4, source="certificate")

    return make


@pytest.fixture
def filing():
    def make(unit_id="u1", serial="MR-2231", **record):
        return UnitFiled(unit_id, serial, "pass", False, record)

    return make


@pytest.fixture
def trace():
    def make(n=50, seed=0):
        values = np.round(np.random.default_rng(seed).normal(15, 0.1, n), 2) * 1e5
        t_us = np.arange(n, dtype=np.int64) * 10_000
        return Trace(t_us, {"gauge_pa": values}, {"gauge_pa": "Pa"}, START, "charge")

    return make


FREE = ("raw", "summary", "source", "certificate", "oil", "pin_hash")


@pytest.fixture(scope="session")
def samples():
    """One event of each kind; texts that name things are plain, those of a device are not."""
    plain = {"unit_id": "u1", "trace_sha256": "", "started_utc": "2026-03-04T09:00:00.123Z",
             "ended_utc": "2026-03-04T09:01:00.000Z", "serial": "MR-1",
             "lines": (), "field": "serial", "old": "MR-2231", "new": "MR-2232",
             "signatures": 2}  # fmt: skip
    plain["photo_sha256"] = hashlib.sha256(b"a photograph").hexdigest()
    found = {}
    for kind, cls in EVENT_TYPES.items():
        hints = typing.get_type_hints(cls)
        body = {f.name: sample_of(hints[f.name]) for f in dataclasses.fields(cls)}
        named = {n: "thing" for n, v in body.items() if type(v) is str and n not in FREE}
        if "conditions" in body:
            conditions = (dataclasses.replace(c, instrument_id="thing") for c in body["conditions"])
            body["conditions"] = tuple(conditions)
        if "material" in body:
            body["material"] = dataclasses.replace(body["material"], number="thing", lot="thing")
        if "what" in body and "content" in body:
            # What a bench wrote stands inside as it was, of a kind that is known.
            left = PersonLeft("thing", "moved away")
            plain = {**plain, "utc": "2026-03-04T09:00:00.000000Z"}
            named |= {"what": left.kind}
            body["content"] = left.body()
        plain["line"] = "l-1" if kind == "order.withdrawn" else ""
        found[kind] = cls(**{**body, **named, **{n: v for n, v in plain.items() if n in body}})
    return found


@pytest.fixture(scope="session")
def life():
    """Make the events of a shop's random days, in an order that a journal takes."""

    def make(seed, units):
        rng = random.Random(seed)
        for n in range(3):
            yield PersonEnrolled(f"p{n}", f"Person {n}", ("technician",))
            yield OilLotReceived(f"L-{n}", "oil", 850.0 + n, 5e-4)
            yield SpecificationApproved("mr-46", n + 1, "MR 46", f"Title {n}", {"n": n}, f"{n:064}")
        lines = [OrderedUnit(f"l{n}", serial=f"Ab-{n}", position=f"at {n}") for n in range(units)]
        yield OrderPlaced("A-1", "2026-03-31", "", False, tuple(lines[:3]))
        yield OrderChanged("A-1", "", "a note", True, "more came", tuple(lines[3:]))
        for n in range(units):
            line = f"l{n}" if rng.random() < 0.7 else ""
            if not line and rng.random() < 0.5:
                yield OrderUnitWithdrawn("A-1", f"l{n}", "sold")
            yield from _unit(
                rng, f"u{seed}-{n}", f"Ab-{rng.randrange(units)}", line, last=n == units - 1
            )

    return make


def _unit(rng, unit, serial, line, *, last):
    lot = f"L-{rng.randrange(3)}"
    yield RebuildOpened(unit, serial, "MR 46", "mr-46", rng.randint(1, 4), lot, line=line)
    for _ in range(rng.randrange(12)):
        yield rng.choice(_STORIES)(rng, unit)
    if unit.endswith("-1"):
        yield StepSigned(unit, "close", EVIDENCE)
        yield from _amended_and_shipped(rng, unit, serial)
        return
    if last:
        yield UnitSetAside(unit, "oil", "waits for seals", Gas.PROVEN_OUT)
        return
    if rng.random() < 0.3:
        yield UnitSetAside(unit, "oil", "waits for seals", Gas.PROVEN_OUT)
        yield UnitFetched(unit, "oil")
    if rng.random() < 0.2:
        yield RebuildAbandoned(unit, "leaks")
        return
    instruments = [{"id": f"i{rng.randrange(4)}"}, {"title": "no id"}]
    deviations = [{"step": "oil", "reason": "seen"}] * rng.randrange(3)
    oil = {"net_shown_kg": rng.random(), "target_shown_kg": 0.2219, "decision": "pass"}
    record = {"instruments": instruments, "oil": oil, "deviations": deviations}
    yield UnitFiled(unit, serial, rng.choice(["pass", "deviation"]), rng.random() < 0.3, record)
    for _ in range(rng.choice([0, 0, 1, 2])):
        yield UnitDisposed(unit, rng.choice(["released", "held", "rejected"]), "seen")
    yield NoticeGiven("state:filed", unit, "the customer, by letter")


def _amended_and_shipped(rng, unit, serial):
    yield filing_of(unit, serial, qa_hold=rng.random() < 0.3)
    yield UnitAmended(unit, "serial", serial, f"{serial}-b", "typed wrong", "lea")
    yield UnitAmended(unit, "close/lot1", "K-1", "K-3", "typed wrong", "lea", "pass")
    yield UnitDisposed(unit, "released", "seen")
    yield dataclasses.replace(
        sample_of(UnitShipped), unit_id=unit, customer=f"Kim {rng.randrange(3)}"
    )
    if rng.random() < 0.5:
        yield UnitReturned(unit, "knocks")


def _alarm(rng, unit):
    episode = f"e{rng.randrange(1_000)}"
    who, pressure = rng.choice([unit, ""]), rng.choice([None, 31e5])
    if rng.random() < 0.6:
        state = rng.choice(["active, unacknowledged", "normal"])
        return AlarmChanged(
            who, episode, "high limit", state, pressure, pressure, 30e5, "hose", "open valve"
        )
    times = ("2026-03-04T09:00:00.123Z", rng.choice(["", "2026-03-04T09:00:09.5Z"]))
    return AlarmEpisodeRecorded(who, episode, "high limit", *times, pressure, "p1", "opened", "")


_STORIES = [
    lambda rng, unit: StepSigned(
        unit, "release", (ZeroRead("zero1", "unit", 100.0, 1e4, f"i{rng.randrange(4)}"),)
    ),
    lambda rng, unit: StepSigned(
        unit, "kit", tuple(
            PartFitted(f"lot{n}", "seal", f"P-{n}", 1, rng.choice(["", "K-1", "k-2"]))
            for n in range(rng.randint(0, 3))
        )
    ),
    lambda rng, unit: StepSigned(
        unit, "remarks", (Written("text1", "Remarks", f"seen {rng.random()} " * 9),)
    ),
    lambda rng, unit: StepReopened(unit, "oil", "spilt"),
    lambda rng, unit: TareProven(unit, "oil", f"i{rng.randrange(4)}", 0.0, 1e-5, 9, "raw"),
    lambda rng, unit: MassCaptured(
        unit, "oil", "pour", f"i{rng.randrange(4)}", rng.random(), 1e-5, 9, 1e-4, "", "raw"
    ),
    lambda rng, unit: OilJudged(
        unit, "oil", 0.2219, rng.random(), 2e-4, 0.0017, 2e-4, 4e-4, 2.0, "pass", 0.99, 262e-6,
        sample_of(OilTarget), (),
    ),
    lambda rng, unit: ChargeCaptured(
        unit, "charge", f"i{rng.randrange(4)}", 1.51e6, rng.random() * 1e6, 1.5e6, 4e4, 5e3, 1e4,
        2.0, "pass", 0.99, 293.15, 101325.0, 1e-4, 1.8e-3, "", "", sample_of(ChargeTarget), (),
    ),
    lambda rng, unit: InstrumentRegistered(
        f"i{rng.randrange(4)}", rng.choice(["scale", "gauge"]), "Scale", "p", "s", rng.random(),
        0.0, 1e-4, "2026-01-01", "2027-01-01", "c",
    ),
    lambda rng, unit: InstrumentChecked(
        f"i{rng.randrange(4)}", "zero check", 0.0, 10.0, 2000.0, rng.random() < 0.7
    ),
    lambda rng, unit: CheckWithdrawn(f"i{rng.randrange(4)}", rng.randint(1, 60), "by mistake"),
    lambda rng, unit: HoldTested(
        unit, "hold", 15e5, 15e5, 300.0, 0.0, 1e-4, 2e-3, rng.choice(["pass", "fail"]), ""
    ),
    _alarm,
]  # fmt: skip
