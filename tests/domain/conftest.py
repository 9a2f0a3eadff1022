from datetime import UTC, date, datetime
from importlib.resources import files
from types import SimpleNamespace

import pytest

from benchstation.domain.events import DeviationSigned, RebuildOpened, StepSigned
from benchstation.domain.materials import Material, Sort, Stock, key_of
from benchstation.domain.rebuild import fold
from benchstation.domain.signing import BenchNow
from benchstation.domain.specification import specification_from_toml
from benchstation.domain.statements import Code, Statement


@pytest.fixture(scope="session")
def spec():
    path = files("resources") / "demo" / "specifications" / "mr-46-front.toml"
    return specification_from_toml(path.read_text("utf-8"))


@pytest.fixture
def fact():
    def make(event, person="ines"):
        return SimpleNamespace(event=event, person=person, utc=datetime(2026, 3, 4, 9, tzinfo=UTC))

    return make


@pytest.fixture
def opened(spec):
    return RebuildOpened("u1", "MR-2231", spec.family, spec.id, spec.revision, "L-0417")


@pytest.fixture(scope="session")
def rear():
    """A family whose route has every kind of step."""
    path = files("resources") / "demo" / "specifications" / "mr-46-rear.toml"
    return specification_from_toml(path.read_text("utf-8"))


IT = Statement.of(Code.STEP_RESULT, title="It")


@pytest.fixture
def rear_at(rear, fact):
    """Return the rear unit's state at a step, with more events before it."""

    def state(step_id, *events, deviated=False):
        opened = RebuildOpened("u1", "MR-7", rear.family, rear.id, rear.revision, "L-0417")
        steps = [step.id for step in rear.steps]
        signed = [StepSigned("u1", name) for name in steps[: steps.index(step_id)]]
        accepted = [DeviationSigned("u1", step_id, IT, "because")] if deviated else []
        return fold(map(fact, (opened, *signed, *accepted, *events)), rear)

    return state


DAY = date(2026, 3, 4)


def a_material(sort, number, lot, **more):
    return Material(sort, number, lot, "a name", "Supplier A", "2026-02-01", **more)


@pytest.fixture
def stock():
    """What the shop has on record: parts, a wrench, and what may not be used any more."""
    found = Stock()
    for number, lot in (("RS-14", "K-88"), ("WP-14", "W 7"), ("FP-46", "F-3"), ("FP-46", "F-4")):
        found.receive(a_material(Sort.PART, number, lot, until="2027-01-31"))
    found.receive(a_material(Sort.PART, "RS-14", "K-70", until="2026-03-03"))
    found.receive(a_material(Sort.PART, "RS-14", "K-80"))
    found.close(key_of(Sort.PART, "RS-14", "K-80"), "withdrawn", "swells in oil")
    found.receive(a_material(Sort.PART, "RS-14", "K-60"))
    found.close(key_of(Sort.PART, "RS-14", "K-60"), "used up", "")
    found.receive(a_material(Sort.KIT, "SK-46", "K-88"))
    found.receive(a_material(Sort.WRENCH, "", "TW-07", until="2026-03-04"))
    found.receive(a_material(Sort.WRENCH, "", "TW-03", until="2026-03-03"))
    return found


@pytest.fixture
def stocked(stock):
    """The bench as it is with that on record."""
    return BenchNow(stock=stock, today=DAY)
