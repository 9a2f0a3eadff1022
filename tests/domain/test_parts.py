import pytest

from benchstation.domain import parts
from benchstation.domain.unit_commands import NotAllowedError

LOTS = {"lot1": "K-88", "lot2": "  W 7 ", "lot3": "F-3", "lot4": "yes"}


def test_parts_are_signed_with_number_count_and_lot(rear_at):
    (event,) = parts.sign_parts(rear_at("parts"), LOTS)
    assert event.summary.startswith("Rod seal, 14 mm K-88, Wiper, 14 mm W 7, ")
    assert event.evidence["parts"][2] == {
        "number": "FP-46", "name": "Floating piston ring, 46 mm", "count": 2, "lot": "F-3"
    }  # fmt: skip
    assert event.evidence["parts"][3]["lot"] == ""
    assert len(parts.parts_in(event.evidence)) == 4


def test_every_lot_and_part_that_is_missing_is_named(rear_at):
    with pytest.raises(NotAllowedError) as refused:
        parts.sign_parts(rear_at("parts"), {"lot2": "W-7", "lot1": "  "})
    assert refused.value.what == (
        "still to do: lot of Rod seal, 14 mm; lot of Floating piston ring, 46 mm; "
        "Retaining ring, 46 mm."
    )


def test_without_a_lot_only_a_deviation_goes_on_and_says_which(rear_at):
    (event,) = parts.sign_parts(rear_at("parts", deviated=True), {**LOTS, "lot1": ""})
    assert event.summary.endswith("accepted as a deviation without: lot of Rod seal, 14 mm")
    assert event.evidence["parts"][0]["missing"] is True


@pytest.mark.parametrize("lot", ["x" * 65, "a\x00b"])
def test_a_lot_that_cannot_be_printed_is_refused(rear_at, lot):
    with pytest.raises(NotAllowedError, match="too long or cannot be printed"):
        parts.sign_parts(rear_at("parts", deviated=True), {**LOTS, "lot1": lot})


@pytest.mark.parametrize("evidence", [{}, {"parts": "K-1"}, {"parts": [1, {}, {"number": 3}]}])
def test_evidence_of_another_shape_lists_none(evidence):
    assert parts.parts_in(evidence) == []
