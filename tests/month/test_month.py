"""What the workbench says at the end of a month is what was really so; a short form and a soak.

``BENCHSTATION_MONTH`` says where the soak's report is written.
"""

import os
import time
from pathlib import Path

import pytest

from benchstation.store.engine import open_store
from tests.month import running, scenario
from tests.month.audit import audit
from tests.month.report import write_report


def month(folder, shop, units, days):
    began = time.monotonic()
    made = running.founded(folder, shop.address, scenario.month_of(units, days))
    running.run(made)
    found = audit(made)
    for home in made.homes.values():
        with open_store(home.file, home.bench, read_only=True) as store:
            assert store.verify().ok
    where = Path(os.environ.get("BENCHSTATION_MONTH", folder))
    return found, write_report(found, where, time.monotonic() - began)


def disagreeing(found):
    return {answer.question: (answer.said, answer.so) for answer in found.wrong}


AT_ANY_SIZE = {
    "every unit that left a bench is on record once",
    "passed though outside, beside those a check or a calibration took back",
    "records whose oil is not the truth within its U, beside those of the damaged scale",
    "records whose charge is not the truth within its U and the drift as found",
    "units with an alarm on record",
    "what left the shop",
    "shipped outside without a signed deviation for it",
    "calibrations that fell due, each with its day",
    "instruments that were not locked when theirs was over",
    "bad units that the workbench does not name with the reason",
    "orders that are worked",
    "units filled from L-0517",
    "units with that kit",
    "chains that are not well",
}
"""What is asked of a few units too: no scale fails and nothing creeps in them."""


@pytest.mark.timeout(170)
def test_a_few_days_in_the_shop(tmp_path, shop):
    found, (as_json, as_pdf) = month(tmp_path, shop, 9, 3)
    assert {answer.question for answer in found.answers} >= AT_ANY_SIZE
    wrong = disagreeing(found)
    assert {question: wrong[question] for question in AT_ANY_SIZE & wrong.keys()} == {}
    assert found.figures["units"] == 9
    assert found.figures["standing"]["returned"] > 0
    assert as_json.stat().st_size > 500
    assert as_pdf.read_bytes().startswith(b"%PDF")


@pytest.mark.soak
@pytest.mark.timeout(3600)
def test_a_month_in_the_shop(tmp_path, shop):
    found, _ = month(tmp_path, shop, 600, 22)
    assert disagreeing(found) == {}
    assert found.figures["units"] == 600
    assert found.figures["network away"] > 0
    assert len(found.figures["failed checks"]) == 2
