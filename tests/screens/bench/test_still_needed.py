"""What a new bench still needs is named whole, each with the page on which it comes."""

from dataclasses import replace

import pytest

from benchstation.demo import shop as demo
from benchstation.domain.materials import Sort, Stock
from benchstation.screens.bench.still_needed import NAMED
from benchstation.screens.bench.task import STILL_NEEDS, task
from tests.stepped_bench import make_bench


@pytest.fixture
def bench(tmp_path):
    made = make_bench(tmp_path)
    made.sign_in(demo.LEAD)
    return made


def shown(bench):
    return task(bench.session, bench.session.words)


def lines_of(bench):
    return [text for text, _ in shown(bench).lines]


def test_a_bench_without_anything_is_told_all_of_it_at_once(bench):
    shop = bench.session.shop
    shop.stock, shop.specifications = Stock(), {}
    shop.lots.clear()
    for name in [name for name in shop.people if name != demo.LEAD]:
        del shop.people[name]
    bench.session.instruments.check_daily(("scale",))
    first, *needs = shown(bench).instruction.splitlines()
    assert first == STILL_NEEDS
    starts = ("A second bench lead", "A specification", "An oil lot", "A check weight", "The air")
    assert [need.startswith(start) for need, start in zip(needs, starts, strict=True)] == [True] * 5
    assert "and the barometer" in needs[-1]
    assert not shown(bench).actions[0].enabled


def test_kits_parts_and_wrenches_that_steps_ask_for_are_named_where_none_may_be_used(bench):
    assert not [line for line in lines_of(bench) if "still needed" in line]
    stock = bench.session.shop.stock
    for sort in (Sort.KIT, Sort.WRENCH):
        for material in stock.of(sort):
            stock.close(material.key, "withdrawn", "a trial")
    kits, wrench = (line for line in lines_of(bench) if line.startswith("still needed: "))
    assert "SK-46" in kits
    assert kits.count("SK-") <= NAMED
    assert "Materials (F11)" in kits
    assert wrench.startswith("still needed: A torque wrench")
    assert shown(bench).actions[0].enabled, "a unit can be begun, the kit comes later"


def test_a_check_weight_is_needed_where_the_day_asks_for_one_that_suits(bench):
    session = bench.session
    session.instruments.check_daily(("scale",))
    assert not [line for line in lines_of(bench) if "check weight" in line]
    (weight,) = session.shop.stock.of(Sort.WEIGHT)
    session.shop.stock.receive(replace(weight, nominal_kg=0.001))
    assert [line for line in lines_of(bench) if "A check weight for" in line], "it is too light"
    session.instruments.check_daily(())
    assert not [line for line in lines_of(bench) if "check weight" in line]


def test_an_instrument_without_a_calibration_is_named(bench):
    gauge = bench.session.gauge
    gauge.registered = replace(gauge.registered, calibrated_until="")
    (line,) = (line for line in lines_of(bench) if "still needed" in line)
    assert gauge.registered.title in line
    assert "Instruments (F6)" in line
