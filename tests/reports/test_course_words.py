"""What became of a unit since it was filed, on its paper."""

from dataclasses import replace
from datetime import UTC, datetime
from io import BytesIO

import page
import pytest
from pypdf import PdfReader

from benchstation.domain.disposition import (
    Amendment,
    Return,
    Ruling,
    Shipment,
    Standing,
    meaning_of,
)
from benchstation.domain.events import UnitShipped
from benchstation.quantities.formatter import METRIC
from benchstation.reports.certificate import certificate
from benchstation.reports.course_words import course_lines, customer_lines

THEN = datetime(2026, 3, 5, 8, 30, tzinfo=UTC)
SENT = UnitShipped(
    "u", "Hut Nine", "Pass Road 9, 6020", "O-7", "4G box", "SP 283", "", True, 15e5, 15e5, 1e-4,
    2e-3, 1.2, None, None,
)  # fmt: skip


@pytest.fixture
def course(filed):
    ruling = Ruling(
        Standing.RELEASED, "all in order", "Ada Lind", THEN, 130, meaning_of("released"), "O-7"
    )
    amended = Amendment(
        1, "order", "O-6", "O-7", "typed wrong", "Mira Kofler", "Ada Lind", True, "", THEN, 131
    )
    said = replace(
        filed[0].disposition,
        standing=Standing.SHIPPED,
        rulings=(ruling,),
        amendments=(amended, replace(amended, number=2, entry=132, independent=False)),
        shipments=(Shipment(SENT, SENT, "Ada Lind", THEN, 133, "bench-2"),),
        returns=(Return("knocks", "", "Ada Lind", THEN, 134, "bench-2"),),
    )
    return replace(filed[0], disposition=said)


def test_each_word_act_and_meaning_is_a_line(course):
    ruled, first, second, sent, back = course_lines(course, METRIC, lambda utc: f"{utc:%H:%M}")
    assert ruled.startswith("released: all in order. Ada Lind, 08:30, entry 130.")
    assert f'The signature means: "{meaning_of("released")}".' in ruled
    assert "Released with others as O-7." in ruled
    assert first.startswith("Amendment 1 of 2, ")
    assert "O-6 is amended to O-7: typed wrong. Mira Kofler, approved by Ada Lind, 08:30" in first
    assert "not independent" in second
    assert sent.startswith("Shipped to Hut Nine, order O-7, package 4G box, SP 283; Pass Road 9")
    assert back == "Returned: knocks; not examined yet. Ada Lind, 08:30, bench-2 entry 134."


def test_the_paper_says_amended_who_of_qa_and_whose_it_is(course):
    content = certificate(course)
    text = " ".join(
        " ".join(one.extract_text().split()) for one in PdfReader(BytesIO(content)).pages
    )
    for said in (
        "amended, 2 of 2",
        "Customer: Hut Nine, Pass Road 9, 6020",
        "Ada Lind, 2026-03-05 08:30 UTC",
        "Since it was filed",
        "The record stays.",
    ):
        assert said in text
    assert page.validate_pdf_bytes(content, profile="3a").is_compliant


def test_nothing_is_said_of_a_unit_of_which_nothing_was(filed):
    assert course_lines(filed[0], METRIC, str) == []
    assert customer_lines(filed[0].disposition) == []
