"""What was received: found by lot, judged on a day, offered in order."""

from datetime import date

from benchstation.domain.materials import Sort, Standing, Stock, key_of
from tests.domain.conftest import DAY, a_material


def test_the_last_day_of_use_still_counts(stock):
    wrench = stock.find(Sort.WRENCH, "", "tw-07")
    assert stock.standing(wrench, DAY) is Standing.OPEN
    assert stock.standing(wrench, date(2026, 3, 5)) is Standing.OVERDUE


def test_what_may_be_used_comes_first_and_the_rest_says_why_not(stock):
    offered = stock.offered(Sort.PART, "rs-14", DAY)
    assert list(offered.items()) == [
        ("K-88", "K-88"),
        ("K-70", "K-70 (expired on 2026-03-03)"),
        ("K-80", "K-80 (withdrawn: swells in oil)"),
    ], "what is used up is left out"


def test_a_wrench_that_is_calibrated_anew_may_be_used_again():
    stock = Stock()
    stock.receive(a_material(Sort.WRENCH, "", "TW-1", until="2026-01-01"))
    stock.close(key_of(Sort.WRENCH, "", "TW-1"), "withdrawn", "fell down")
    assert stock.standing(stock.find(Sort.WRENCH, "", "TW-1"), DAY) is Standing.WITHDRAWN
    stock.receive(a_material(Sort.WRENCH, "", "tw-1", until="2027-01-01"))
    assert stock.standing(stock.find(Sort.WRENCH, "", "TW-1"), DAY) is Standing.OPEN
    assert len(stock.of(Sort.WRENCH)) == 1


def test_lots_are_compared_composed_and_without_case():
    assert key_of("kit", "Ä", "k-1") == key_of("kit", "a\u0308", "K-1")
