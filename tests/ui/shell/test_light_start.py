"""What the window loads before its first frame, and a bench that does not exist with it."""

import subprocess
import sys

import pytest

PROGRAM = """
import sys
import benchstation.ui.shell.window, tests.ui.fake_moments, tests.ui.fake_station
print(*sorted(sys.modules))
"""


@pytest.fixture(scope="module")
def loaded() -> set[str]:
    done = subprocess.run([sys.executable, "-c", PROGRAM], capture_output=True, check=True)
    return set(done.stdout.decode().split())


@pytest.mark.parametrize(
    "heavy", ["pyqtgraph", "pydantic", "pint", "sqlalchemy", "reportlab", "benchstation.bench"]
)
def test_the_window_does_not_wait_for(heavy: str, loaded: set[str]) -> None:
    assert "benchstation.ui.pages.bench" in loaded
    assert heavy not in loaded


def test_of_the_rules_it_loads_only_names_and_limits(loaded: set[str]) -> None:
    rules = {name for name in loaded if name.startswith("benchstation.domain.")}
    assert rules == {
        "benchstation.domain.form_fields",
        "benchstation.domain.people",
        "benchstation.domain.photo_size",
    }
