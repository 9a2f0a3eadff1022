import pytest

from benchstation.domain.inputs.part import PartFitted
from benchstation.domain.refusals import NotAllowedError
from benchstation.domain.signing import sign_step
from benchstation.quantities.formatter import METRIC
from benchstation.reports.evidence_words import evidence_in_words

LOTS = {"lot1": "K-88", "lot2": "  W 7 ", "lot3": "F-3", "lot4": "yes"}


def test_parts_are_signed_with_number_count_and_lot(rear_at):
    (event,) = sign_step(rear_at("parts"), LOTS)
    said = evidence_in_words(event.evidence, METRIC)
    assert said.startswith("Rod seal, 14 mm K-88; Wiper, 14 mm W 7; ")
    assert said.endswith("Retaining ring, 46 mm fitted")
    assert len(event.evidence) == 4
    assert event.evidence[2] == PartFitted("lot3", "Floating piston ring, 46 mm", "FP-46", 2, "F-3")
    assert event.evidence[3].lot == ""


def test_every_lot_and_part_that_is_missing_is_named(rear_at):
    with pytest.raises(NotAllowedError) as refused:
        sign_step(rear_at("parts"), {"lot2": "W-7", "lot1": "  "})
    assert refused.value.what == (
        "still to do: lot of Rod seal, 14 mm; lot of Floating piston ring, 46 mm; "
        "Retaining ring, 46 mm."
    )


def test_without_a_lot_only_a_deviation_goes_on_and_says_which(rear_at):
    (event,) = sign_step(rear_at("parts", deviated=True), {**LOTS, "lot1": ""})
    assert [part.missing for part in event.evidence] == [True, False, False, False]
    said = evidence_in_words(event.evidence, METRIC)
    assert said.startswith("Rod seal, 14 mm missing, accepted as a deviation; ")


@pytest.mark.parametrize("lot", ["x" * 65, "a\x00b"])
def test_a_lot_that_cannot_be_printed_is_refused(rear_at, lot):
    with pytest.raises(NotAllowedError, match="too long or cannot be printed"):
        sign_step(rear_at("parts", deviated=True), {**LOTS, "lot1": lot})
