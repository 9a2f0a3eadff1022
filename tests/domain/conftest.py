from datetime import UTC, datetime
from importlib.resources import files
from types import SimpleNamespace

import pytest

from benchstation.domain.events import DeviationSigned, RebuildOpened, StepSigned
from benchstation.domain.rebuild import fold
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
