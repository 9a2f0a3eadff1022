import pytest

from benchstation.domain.inputs.part import PartFitted
from benchstation.domain.materials import Standing, Supplied
from benchstation.domain.refusals import NotAllowedError
from benchstation.domain.signing import sign_step
from benchstation.quantities.formatter import METRIC
from benchstation.reports.evidence_words import evidence_in_words

LOTS = {"lot1": "K-88", "lot2": "  W 7 ", "lot3": "F-3", "lot4": "yes"}


def test_parts_are_signed_with_number_count_and_lot(rear_at, stocked):
    (event,) = sign_step(rear_at("parts"), LOTS, stocked)
    said = evidence_in_words(event.evidence, METRIC)
    assert said.startswith("Rod seal, 14 mm K-88; Wiper, 14 mm W 7; ")
    assert said.endswith("Retaining ring, 46 mm fitted")
    assert len(event.evidence) == 4
    assert event.evidence[2] == PartFitted(
        "lot3",
        "Floating piston ring, 46 mm",
        "FP-46",
        2,
        "F-3",
        supplied=Supplied("Supplier A", "2027-01-31"),
    )
    assert event.evidence[3].lot == ""


def test_every_lot_and_part_that_is_missing_is_named(rear_at, stocked):
    with pytest.raises(NotAllowedError) as refused:
        sign_step(rear_at("parts"), {"lot2": "w 7", "lot1": "  "}, stocked)
    assert refused.value.what == (
        "still to do: lot of Rod seal, 14 mm; lot of Floating piston ring, 46 mm; "
        "Retaining ring, 46 mm."
    )


def test_without_a_lot_only_a_deviation_goes_on_and_says_which(rear_at, stocked):
    (event,) = sign_step(rear_at("parts", deviated=True), {**LOTS, "lot1": ""}, stocked)
    assert [part.missing for part in event.evidence] == [True, False, False, False]
    said = evidence_in_words(event.evidence, METRIC)
    assert said.startswith("Rod seal, 14 mm missing, accepted as a deviation; ")


@pytest.mark.parametrize("lot", ["x" * 65, "a\x00b"])
def test_a_lot_that_cannot_be_printed_is_refused(rear_at, lot):
    with pytest.raises(NotAllowedError, match="too long or cannot be printed"):
        sign_step(rear_at("parts", deviated=True), {**LOTS, "lot1": lot})


@pytest.mark.parametrize(
    ("lot", "said", "standing"),
    [
        ("z", "lot z of RS-14 is not on record", Standing.UNKNOWN),
        ("W 7", "lot W 7 of RS-14 is not on record", Standing.UNKNOWN),
        ("K-70", "lot K-70 of RS-14 expired on 2026-03-03", Standing.EXPIRED),
        ("k-80", "lot k-80 of RS-14 is withdrawn: swells in oil", Standing.WITHDRAWN),
        ("K-60", "lot K-60 of RS-14 is closed as used up", Standing.USED_UP),
    ],
)
def test_a_lot_that_may_not_be_used_is_refused_at_its_field(rear_at, stocked, lot, said, standing):
    with pytest.raises(NotAllowedError, match=said) as refused:
        sign_step(rear_at("parts"), {**LOTS, "lot1": lot}, stocked)
    assert refused.value.field == "lot1"
    (event,) = sign_step(rear_at("parts", deviated=True), {**LOTS, "lot1": lot}, stocked)
    assert event.evidence[0].supplied.standing is standing
    said = evidence_in_words(event.evidence, METRIC)
    assert said.startswith(f"Rod seal, 14 mm {lot} ({standing}, accepted as a deviation); ")
