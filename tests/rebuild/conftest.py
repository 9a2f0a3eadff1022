from datetime import UTC, datetime
from importlib.resources import files
from types import SimpleNamespace

import pytest

from benchstation.rebuild.events import RebuildOpened
from benchstation.rebuild.specification import specification_from_toml


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
