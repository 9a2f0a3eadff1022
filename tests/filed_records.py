"""A whole filed record whose figures say nothing, with what may be amended and what may not."""

from dataclasses import replace

from benchstation.domain.events import UnitFiled
from benchstation.domain.inputs.choice import Chosen, Hold
from benchstation.domain.inputs.confirmation import Confirmed
from benchstation.domain.inputs.line import Noted
from benchstation.domain.inputs.material import MaterialTaken
from benchstation.domain.inputs.part import PartFitted
from benchstation.domain.inputs.quantity import Measured
from benchstation.domain.inputs.text import Written
from benchstation.domain.inputs.torque import Tightened
from benchstation.domain.materials import Sort, Supplied
from benchstation.domain.unit_record import RecordedStep, UnitRecord
from tests.samples import sample_of

EVIDENCE = (
    Confirmed("confirm1", "rod is straight", None),
    Chosen("choice1", "rod surface", "marks", "light marks", Hold.QA),
    Noted("note1", "marked", "B-17"),
    Written("text1", "as found", "shaft scratched"),
    Measured("value1", "rod length", 0.2, "length"),
    Measured("value2", "free travel", 0.1, "length", 0.1, 0.001),
    Tightened("torque1", "gland nut", 45.0, 45.0, 5.0, "W-1"),
    PartFitted("lot1", "seal", "P-1", 1, "K-1"),
    MaterialTaken("material1", "kit", Sort.KIT, "KIT-1", "K-9", Supplied("maker", "")),
)


def filed_record(unit_id="u1", serial="MR-2231"):
    """Return a record with one step that holds a tick, a choice and each kind of what is typed."""
    step = RecordedStep("close", "Close", "ines", "Ines", "2026-03-04T09:00:00Z", EVIDENCE)
    named = {"unit_id": unit_id, "serial": serial, "order": "WO-7", "position": "left"}
    return replace(sample_of(UnitRecord), steps=(step,), instruments=(), **named)


def filing_of(unit_id="u1", serial="MR-2231", *, qa_hold=False):
    """Return the filing of such a record."""
    return UnitFiled(unit_id, serial, "pass", qa_hold, filed_record(unit_id, serial).as_json())
