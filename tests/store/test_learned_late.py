"""What a bench did on older knowledge is found by its journal, also where its clock went back."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest

from benchstation.domain.events import (
    ClockRanBack,
    LearnedLate,
    OilLotClosed,
    PersonLeft,
    SpecificationApproved,
    UnitDisposed,
)
from benchstation.domain.materials import WITHDRAWN
from benchstation.store.learned_late import learned_late
from benchstation.store.schema import utc_text
from tests.filed_records import filing_of
from tests.samples import sample_of

TEN = datetime(2026, 3, 4, 10, tzinfo=UTC)
SAID = TEN + timedelta(hours=1)
HOURS = {"u0": 0, "u1": 2, "u2": -1, "u3": 0}
"""When each unit was opened and filed, after ten by the bench's clock, in the journal's order."""


@pytest.fixture
def worked(store, opening):
    """A bench whose clock was set back by three hours between its second unit and its third."""
    before = TEN
    for unit, hours in HOURS.items():
        utc = TEN + timedelta(hours=hours)
        if utc < before:
            fact = ClockRanBack(utc_text(before), utc_text(utc))
            store.append([fact], person="station", utc=utc)
        made = [replace(opening(unit, f"MR-{unit}"), revision=2), filing_of(unit, f"MR-{unit}")]
        store.append(made, person="ines", utc=utc)
        before = utc
    return store


@pytest.mark.parametrize(
    "said",
    [
        PersonLeft("ines", "left"),
        OilLotClosed("L-0417", WITHDRAWN, "cloudy"),
        replace(sample_of(SpecificationApproved), specification_id="mr-46-front", revision=3),
    ],
    ids=lambda said: said.kind,
)
def test_what_follows_a_later_entry_is_later_whatever_its_time(worked, said):
    entry = replace(worked.entries()[0], event=said, utc=SAID, person="lea")
    with worked.reading() as connection:
        found = learned_late(connection, worked.bench, [entry])
    late = [fact.unit_id for fact in found if isinstance(fact, LearnedLate)]
    held = [fact.unit_id for fact in found if isinstance(fact, UnitDisposed)]
    assert late == held == ["u1", "u2", "u3"]
